// limit_in_phase: x under / at most / at least L while P (STL: G(P -> not H[0,s](x > L))).
// Means over bins of length s on two grids half a bin apart, anchored at the phase's opening.
// Any bin may accuse, so the 5 % risk is shared over N_eff = 6 T / tau looks; all bins must clear,
// so the worst bin alone bounds the error. A tag's speed is no surer than its readings at rest are.
#include <fmt/format.h>

#include <algorithm>

#include "daemon/judge/forms.h"
#include "daemon/judge/shared_risk.h"
#include "daemon/judge/tag_rest.h"
#include "daemon/judge/whole_math.h"

namespace fairlead::judge {
namespace {

// Bin mean in thousandths of the stored unit, and where its extreme was read.
struct Bin {
  int64_t from_us = 0, to_us = 0;
  int64_t mean_milli = 0, lo_milli = 0, hi_milli = 0;
  int64_t sd_milli = 0;
  int line = kNoLine;
  int64_t line_us = 0;
};

// s.d. of a mean over `length`: s.d. x min(1, sqrt(2 tau / length)), rounded up to the stored unit.
int64_t sd_of_mean(int64_t sd_milli, int64_t tau_us, int64_t length_us) {
  Wide square = static_cast<Wide>(sd_milli) * sd_milli;
  if (length_us > 0 && 2 * tau_us < length_us) {
    const Wide product = square * 2 * tau_us;
    square = product / length_us + (product % length_us != 0);
  }
  return ceil_div(root_up(square), 1000) * 1000;
}

// Mean over the covered part of [from, to) clipped to the phase; nullopt if less than half is.
std::optional<Bin> bin_of(const Series& series, int64_t from_us, int64_t to_us, int64_t phase_from,
                          int64_t phase_to) {
  const int64_t clip_from = std::max(from_us, phase_from), clip_to = std::min(to_us, phase_to);
  Wide sum = 0, lo = 0, hi = 0;
  int64_t covered = 0, extreme = -1;
  Bin bin{.from_us = from_us, .to_us = to_us};
  auto piece = std::upper_bound(series.pieces.begin(), series.pieces.end(), clip_from,
                                [](int64_t time, const Piece& one) { return time < one.to_us; });
  for (; piece != series.pieces.end() && piece->from_us < clip_to; ++piece) {
    const int64_t span = std::min(piece->to_us, clip_to) - std::max(piece->from_us, clip_from);
    sum += static_cast<Wide>(piece->value) * span;
    lo += static_cast<Wide>(piece->lo) * span;
    hi += static_cast<Wide>(piece->hi) * span;
    covered += span;
    bin.sd_milli = std::max(bin.sd_milli, piece->sd_milli);
    if (std::abs(piece->value) > extreme) {
      extreme = std::abs(piece->value);
      bin.line = piece->line;
      bin.line_us = std::max(piece->from_us, clip_from);
    }
  }
  if (covered <= 0 || covered * 2 < to_us - from_us) return std::nullopt;
  bin.mean_milli = floor_div(sum * 2000 + covered, 2 * static_cast<Wide>(covered));
  bin.lo_milli = floor_div(lo * 1000, covered);
  bin.hi_milli = ceil_div(hi * 1000, covered);
  return bin;
}

// All bins that may lie in the phase.
std::vector<Bin> bins_of(const Series& series, const PhaseSpan& span, int64_t length_us) {
  std::vector<Bin> bins;
  const int64_t from_us = span.possibly_from(), to_us = span.possibly_to();
  if (length_us <= 0) {  // Without `sustained` each reading stands for itself.
    for (const Piece& piece : series.pieces) {
      if (piece.to_us <= from_us || piece.from_us >= to_us) continue;
      if (auto bin = bin_of(series, std::max(piece.from_us, from_us), std::min(piece.to_us, to_us),
                            from_us, to_us))
        bins.push_back(*bin);
    }
    return bins;
  }
  const int64_t anchor = span.open.time_us;
  const int64_t before = ceil_div(anchor - from_us, length_us);
  for (const int64_t shift : {int64_t{0}, length_us / 2}) {
    for (int64_t start = anchor + shift - before * length_us; start < to_us; start += length_us) {
      // A stretch without a reading is skipped whole, however long the record says it was.
      const auto next =
          std::upper_bound(series.pieces.begin(), series.pieces.end(), start,
                           [](int64_t time, const Piece& one) { return time < one.to_us; });
      if (next == series.pieces.end()) break;
      if (next->from_us >= start + length_us)
        start += (next->from_us - start) / length_us * length_us;
      if (auto bin = bin_of(series, start, start + length_us, from_us, to_us)) bins.push_back(*bin);
    }
  }
  return bins;
}

struct Judged {
  int64_t lo, best, hi;  // Margins in thousandths.
  int64_t value_lo, value_best, value_hi;
};

// Margin of one bin against the limit; `accuse_milli` is z s, `clear_milli` u = 1.645 s.
std::optional<Judged> margin_of(const Bin& bin, const Range& limit, Bounds bounds,
                                bool signed_speed, int64_t z_micro, const Series& series,
                                int64_t length_us) {
  if (!limit.best) return std::nullopt;
  const int64_t sd = sd_of_mean(bin.sd_milli, series.tau_us, series.sd_of_mean ? 0 : length_us);
  const int64_t accuse = ceil_div(static_cast<Wide>(sd) * z_micro, 1'000'000);
  const int64_t clear = ceil_div(static_cast<Wide>(sd) * kUPerMille, 1000);
  int64_t mean = bin.mean_milli, lo = bin.lo_milli, hi = bin.hi_milli;
  if (signed_speed && mean < 0) {
    mean = -mean;
    std::swap(lo, hi);
    lo = -lo;
    hi = -hi;
  }
  const int64_t limit_lo = limit.lo.value_or(0) * 1000, limit_best = *limit.best * 1000;
  const int64_t limit_hi = limit.hi.value_or(kForever / 1000) * 1000;
  if (bounds == Bounds::kAtLeast) {
    return Judged{lo - clear - limit_hi,
                  mean - limit_best,
                  hi + accuse - limit_lo,
                  lo - clear,
                  mean,
                  hi + clear};
  }
  return Judged{limit_lo - (hi + clear),
                limit_best - mean,
                limit_hi - (lo - accuse),
                lo - clear,
                mean,
                hi + clear};
}

// The limit over a bin: from its lowest to its highest.
Range limit_over(JobView& view, const Limit& limit, const Bin& bin) {
  if (limit.quantity.empty()) return limit_at(view, limit, bin.from_us);
  const Range a = limit_at(view, limit, std::max(bin.from_us, bin.line_us)),
              b = limit_at(view, limit, bin.to_us - 1);
  Range over = a;
  if (!a.best || !b.best) return a.best ? a : b;
  over.lo = a.lo && b.lo ? std::optional(std::min(*a.lo, *b.lo)) : std::nullopt;
  over.hi = a.hi && b.hi ? std::optional(std::max(*a.hi, *b.hi)) : std::nullopt;
  return over;
}

// Why a limit that is itself a quantity is not known, or not from below.
Reason why_unknown(JobView& view, const Limit& limit, int64_t time_us) {
  if (limit.quantity == "line.rating" || limit.quantity == "point.rating")
    return view.rigging.may_be_other(time_us).value_or(Reason::kNoData);
  if (limit.quantity != "line.free_roll") return Reason::kNoData;
  const auto holes = view.quantities.series("deck.tilt", 0, 0).holes(time_us, time_us + 1);
  return holes.empty() ? Reason::kNoData : holes.front().reason;
}

// Bins are no surer than the tag's readings at rest around the stay. Said once, however many stays
// there are.
std::vector<Bin> no_surer(std::vector<Bin> bins, const RestScatter& rest, const PhaseSpan& span,
                          Outcome& outcome) {
  const auto seen =
      rest.sd_milli(span.open.time_us - kRestAroundUs, span.close.time_us + kRestAroundUs);
  if (!seen) return bins;
  bool more = false;
  for (Bin& bin : bins) {
    more = more || bin.sd_milli < *seen;
    bin.sd_milli = std::max(bin.sd_milli, *seen);
  }
  const std::string words = "the tag's speed scatters more at rest than it states";
  if (!more ||
      std::ranges::any_of(outcome.remarks, [&](const auto& one) { return one.starts_with(words); }))
    return bins;
  outcome.remarks.push_back(
      fmt::format("{}: {} m/s", words,
                  format_in_unit(ceil_div(*seen, 1000), Rational{1000, 1}, 3, Toward::kUp)));
  return bins;
}

Occasion judge_span(JobView& view, const LimitInPhase& form, const PhaseSpan& span,
                    const RestScatter& rest, Outcome& outcome) {
  Occasion occasion;
  const int64_t hole_us = form.longest_gap_us.value_or(0);
  const Series& series = view.quantities.series(form.quantity, hole_us, form.sustained_us);
  const Phase* phase = view.procedure.phase(form.phase);
  const int64_t longest = phase != nullptr && phase->longest_us > 0
                              ? phase->longest_us
                              : span.close.time_us - span.open.time_us;
  const int64_t z_micro = shared_risk_z_micro(longest, series.tau_us);
  const bool speed = form.quantity == "vehicle.speed";
  const Bin* worst_bin = nullptr;
  bool lo_known = true, unsure_outside = false, too_close = false;
  const int64_t edge = form.bounds == Bounds::kUnder ? 1 : 0;
  const auto bins = no_surer(bins_of(series, span, form.sustained_us), rest, span, outcome);
  for (const Bin& bin : bins) {
    const int64_t length = form.sustained_us > 0 ? form.sustained_us : 0;
    const auto judged = margin_of(bin, limit_over(view, form.limit, bin), form.bounds, speed,
                                  z_micro, series, length);
    if (!judged) {
      occasion.doubts.insert(why_unknown(view, form.limit, bin.to_us - 1));
      continue;
    }
    if (!limit_over(view, form.limit, bin).lo) {  // What bounds it from below is not known.
      occasion.doubts.insert(why_unknown(view, form.limit, bin.to_us - 1));
      lo_known = false;
    }
    const int64_t lo = floor_div(judged->lo, 1000), hi = ceil_div(judged->hi, 1000);
    const int64_t best = floor_div(static_cast<Wide>(judged->best) * 2 + 1000, 2000);
    if (!occasion.margin.lo || lo < *occasion.margin.lo) occasion.margin.lo = lo;
    const bool sure = bin.from_us >= span.surely_from() && bin.to_us <= span.surely_to();
    const bool reading_sure = form.sustained_us == 0 && bin.line_us >= span.surely_from() &&
                              bin.line_us < span.surely_to();
    const bool counts = sure || reading_sure;
    if (counts && (!occasion.margin.hi || hi < *occasion.margin.hi)) occasion.margin.hi = hi;
    const bool maybe = bin.from_us >= span.possibly_from() && bin.to_us <= span.possibly_to();
    unsure_outside = unsure_outside || (!counts && maybe && hi < edge);
    too_close = too_close || (lo < edge && hi >= edge);
    if (occasion.margin.best && best >= *occasion.margin.best) continue;
    occasion.margin.best = best;
    occasion.value = {floor_div(judged->value_lo, 1000),
                      floor_div(static_cast<Wide>(judged->value_best) * 2 + 1000, 2000),
                      ceil_div(judged->value_hi, 1000)};
    const Range limit = limit_over(view, form.limit, bin);
    occasion.limit = limit.best;
    worst_bin = &bin;
  }
  if (!lo_known) occasion.margin.lo.reset();
  if (unsure_outside)  // Outside, but nobody can say whether in the phase.
    occasion.doubts.insert(too_close ? Reason::kTooClose : Reason::kClockDoubt);
  if (form.limit.quantity == "line.free_roll" && worst_bin != nullptr &&
      view.quantities.slippery(worst_bin->line_us))
    outcome.remarks.push_back("on ice or snow locked wheels slide as easily as free ones roll");
  for (const Hole& hole : series.holes(span.possibly_from(), span.possibly_to())) {
    occasion.doubts.insert(hole.reason);
    outcome.holes.push_back({hole.from_us, hole.to_us, hole.reason});
  }
  if (!span.closed) occasion.doubts.insert(Reason::kNotYet);
  if (bins.empty() && occasion.doubts.empty()) occasion.doubts.insert(Reason::kNoData);
  if (span.open.line != kNoLine)
    occasion.evidence.push_back(evidence_of(view, span.open.line, "opens"));
  occasion.at_us = worst_bin != nullptr ? worst_bin->line_us : span.open.time_us;
  if (worst_bin != nullptr && worst_bin->line != kNoLine)
    occasion.evidence.push_back(evidence_of(view, worst_bin->line, "critical"));
  const bool said = form.quantity == "source.nominal" || form.quantity == "isolation.distance" ||
                    form.quantity == "rigging.legs_angle";
  occasion.basis = said ? Basis::kSaid : Basis::kMeasured;
  occasion.words = fmt::format("in '{}'", form.phase);
  return occasion;
}

}  // namespace

void judge_form(JobView& view, const Rule& rule, const LimitInPhase& form, Outcomes& out) {
  Outcome outcome{.rule_id = rule.id,
                  .worst = {},
                  .unit = "",
                  .quantity = form.quantity,
                  .limit = "",
                  .limit_stored = {},
                  .listened = view.facts.sources(view.facts.opener(form.phase)),
                  .remarks = {}};
  describe_limit(view, form.limit, form.bounds, outcome);
  const auto& sources = view.quantities.sources(form.quantity);
  outcome.listened.insert(sources.begin(), sources.end());
  const bool by_tag = form.quantity == "vehicle.speed" && sources.contains("gps.tag") &&
                      view.quantities.sources("line.out").empty();
  const RestScatter rest = by_tag ? tag_at_rest(view) : RestScatter();
  if (by_tag) {
    const auto by = sources_of_rest(view);
    outcome.listened.insert(by.begin(), by.end());
  }
  std::vector<Occasion> occasions;
  for (const PhaseSpan& span : within_while(view, rule, view.facts.phase(form.phase))) {
    const auto placed = on_clock_of(view, sources, span);
    Occasion occasion = judge_span(view, form, placed.value_or(span), rest, outcome);
    if (!placed) {  // Any reading may lie in the phase or out of it.
      occasion.margin.lo = occasion.margin.hi = std::nullopt;
      occasion.doubts.insert(Reason::kClockDoubt);
    }
    if (!excused(view, rule, *occasion.at_us)) occasions.push_back(std::move(occasion));
  }
  conclude_universal(view, rule, outcome, occasions, view.facts.opener(form.phase), form.bounds,
                     hidden_stays(view, rule, form.phase));
  out.push_back(std::move(outcome));
}

}  // namespace fairlead::judge
