// limit_in_phase: x under / at most / at least L while P (STL: G(P -> not H[0,s](x > L))).
// Means over bins of length s on two grids half a bin apart, anchored at the phase's opening.
// Any bin may accuse, so the 5 % risk is shared over N_eff = 6 T / tau looks; all bins must clear,
// so the worst bin alone bounds the error. A tag's speed is no surer than its readings at rest are.
#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "daemon/judge/forms.h"
#include "daemon/judge/kept_work.h"
#include "daemon/judge/shared_risk.h"
#include "daemon/judge/tag_rest.h"
#include "daemon/judge/whole_math.h"

namespace fairlead::judge {
namespace {

// s.d. of a mean over `length`: s.d. x min(1, sqrt(2 tau / length)), rounded up to the stored unit.
int64_t sd_of_mean(int64_t sd_milli, int64_t tau_us, int64_t length_us) {
  Wide square = static_cast<Wide>(sd_milli) * sd_milli;
  if (length_us > 0 && 2 * tau_us < length_us) {
    const Wide product = square * 2 * tau_us;
    square = product / length_us + (product % length_us != 0);
  }
  return ceil_div(root_up(square), 1000) * 1000;
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

// One stay of the phase and what its bins are held against.
struct Stay {
  JobView& view;
  const LimitInPhase& form;
  const PhaseSpan& span;
  const Series& series;
  int64_t z_micro;
  int64_t sure_to_us;                    // Up to here a bin is surely in it.
  std::optional<int64_t> rest_sd_milli;  // Of the tag's readings at rest around the stay.
};

void take_bin(Stay& stay, Bin bin, BinTally& tally) {
  JobView& view = stay.view;
  const LimitInPhase& form = stay.form;
  const PhaseSpan& span = stay.span;
  tally.any = true;
  if (stay.rest_sd_milli) {
    tally.scatters_more = tally.scatters_more || bin.sd_milli < *stay.rest_sd_milli;
    bin.sd_milli = std::max(bin.sd_milli, *stay.rest_sd_milli);
  }
  const Range limit = limit_over(view, form.limit, bin);
  const auto judged = margin_of(bin, limit, form.bounds, form.quantity == "vehicle.speed",
                                stay.z_micro, stay.series, std::max<int64_t>(form.sustained_us, 0));
  if (!judged || !limit.lo)  // Unknown, or what bounds it from below is.
    tally.doubts.insert(why_unknown(view, form.limit, bin.to_us - 1));
  if (!judged) return;
  tally.lo_known = tally.lo_known && limit.lo;
  const int64_t edge = form.bounds == Bounds::kUnder ? 1 : 0;
  const int64_t lo = floor_div(judged->lo, 1000), hi = ceil_div(judged->hi, 1000);
  const int64_t best = floor_div(static_cast<Wide>(judged->best) * 2 + 1000, 2000);
  if (!tally.margin.lo || lo < *tally.margin.lo) tally.margin.lo = lo;
  const bool sure = bin.from_us >= span.surely_from() && bin.to_us <= stay.sure_to_us;
  const bool reading_sure =
      form.sustained_us == 0 && bin.line_us >= span.surely_from() && bin.line_us < stay.sure_to_us;
  const bool counts = sure || reading_sure;
  if (counts && (!tally.margin.hi || hi < *tally.margin.hi)) tally.margin.hi = hi;
  const bool maybe = bin.from_us >= span.possibly_from() && bin.to_us <= span.possibly_to();
  tally.unsure_outside = tally.unsure_outside || (!counts && maybe && hi < edge);
  tally.too_close = tally.too_close || (lo < edge && hi >= edge);
  if (tally.margin.best && best >= *tally.margin.best) return;
  tally.margin.best = best;
  tally.value = {floor_div(judged->value_lo, 1000),
                 floor_div(static_cast<Wide>(judged->value_best) * 2 + 1000, 2000),
                 ceil_div(judged->value_hi, 1000)};
  tally.limit = limit.best;
  tally.worst = bin;
}

// Without `sustained` each reading stands for itself.
BinTally tally_readings(Stay& stay) {
  BinTally tally;
  const int64_t from_us = stay.span.possibly_from(), to_us = stay.span.possibly_to();
  for (const Piece& piece : stay.series.within(from_us, to_us)) {
    if (const auto bin = bin_of(stay.series, std::max(piece.from_us, from_us),
                                std::min(piece.to_us, to_us), from_us, to_us))
      take_bin(stay, *bin, tally);
  }
  return tally;
}

// All bins that may lie in the phase and end by `until_us`, on both grids.
void tally_until(Stay& stay, int64_t until_us, TalliedStay& tallied) {
  BinWalk walk(stay.series, stay.form.sustained_us, stay.span.possibly_from(),
               stay.span.possibly_to());
  for (size_t i = 0; i < tallied.grids.size(); ++i) {
    while (const auto bin = walk.next(tallied.starts[i], until_us))
      take_bin(stay, *bin, tallied.grids[i]);
  }
  tallied.holes.pass(stay.series, stay.span.possibly_to(), until_us);
  tallied.until_us = until_us;
}

TalliedStay begin_tally(const Stay& stay) {
  const int64_t length_us = stay.form.sustained_us, from_us = stay.span.possibly_from();
  const int64_t anchor_us = stay.span.open.time_us;
  const int64_t first_us = anchor_us - ceil_div(anchor_us - from_us, length_us) * length_us;
  TalliedStay tallied;
  tallied.starts = {first_us, first_us + length_us / 2};
  tallied.holes = HoleWalk(from_us);
  return tallied;
}

// All that decides what a bin of the stay says, but for the readings.
std::string key_of(const Stay& stay) {
  const LimitInPhase& form = stay.form;
  const Stamp& open = stay.span.open;
  return fmt::format("{} {} {} {} {}:{}:{} {} {} {} {}", form.quantity,
                     form.longest_gap_us.value_or(0), form.sustained_us,
                     static_cast<int>(form.bounds), form.limit.quantity, form.limit.field,
                     form.limit.constant ? std::to_string(*form.limit.constant) : "-", open.time_us,
                     open.early_us, open.late_us, stay.z_micro);
}

// What is far enough from the newest line, and surely in the phase, is worked out once; not where
// rests still to come tell the noise.
TalliedStay tally(Stay& stay) {
  JobView& view = stay.view;
  TalliedStay tallied = begin_tally(stay);
  const int64_t steady_us = std::min(view.lines.end_us() - kLateUs, stay.sure_to_us);
  if (steady_us > stay.span.possibly_from() && !stay.rest_sd_milli) {
    const LimitInPhase& form = stay.form;
    int64_t reach_us =
        view.quantities.reach_us(form.quantity, form.longest_gap_us.value_or(0), form.sustained_us);
    if (!form.limit.quantity.empty())
      reach_us = std::max(reach_us, view.quantities.reach_us(form.limit.quantity, 0, 0));
    const std::string key = key_of(stay);
    TalliedStay& kept = view.kept.stay(key, tallied, reach_us);
    if (kept.until_us > steady_us) kept = tallied;  // It ends sooner than it seemed to.
    tally_until(stay, steady_us, kept);
    tallied = kept;
    // Why a limit is not known may still change.
    if (!kept.grids[0].doubts.empty() || !kept.grids[1].doubts.empty()) view.kept.forget_stay(key);
  }
  tally_until(stay, std::numeric_limits<int64_t>::max(), tallied);
  return tallied;
}

// Said once, however many stays there are.
void remark_scatter(int64_t sd_milli, Outcome& outcome) {
  const std::string words = "the tag's speed scatters more at rest than it states";
  if (std::ranges::any_of(outcome.remarks, [&](const auto& one) { return one.starts_with(words); }))
    return;
  outcome.remarks.push_back(
      fmt::format("{}: {} m/s", words,
                  format_in_unit(ceil_div(sd_milli, 1000), Rational{1000, 1}, 3, Toward::kUp)));
}

int64_t z_micro_of(const JobView& view, const LimitInPhase& form, const PhaseSpan& span,
                   int64_t tau_us) {
  const Phase* phase = view.procedure.phase(form.phase);
  const bool declared = phase != nullptr && phase->longest_us > 0;
  return shared_risk_z_micro(declared ? phase->longest_us : span.close.time_us - span.open.time_us,
                             tau_us);
}

Occasion judge_span(JobView& view, const Rule& rule, const LimitInPhase& form,
                    const PhaseSpan& span, const RestScatter& rest, Outcome& outcome) {
  Occasion occasion;
  const int64_t hole_us = form.longest_gap_us.value_or(0);
  const Series& series = view.quantities.series(form.quantity, hole_us, form.sustained_us);
  const auto may_close = view.facts.may_close(form.phase, rule.while_phase, span);
  Stay stay{view,
            form,
            span,
            series,
            z_micro_of(view, form, span, series.tau_us),
            may_close ? std::min(may_close->from_us, span.surely_to()) : span.surely_to(),
            rest.sd_milli(span.open.time_us - kRestAroundUs, span.close.time_us + kRestAroundUs)};
  BinTally bins;
  std::vector<Hole> holes;
  if (form.sustained_us > 0) {
    const TalliedStay tallied = tally(stay);
    bins = tallied.grids[0];
    bins.add(tallied.grids[1]);
    holes = tallied.holes.holes(series, span.possibly_to());
  } else {
    bins = tally_readings(stay);
    holes = series.holes(span.possibly_from(), span.possibly_to());
  }
  if (bins.scatters_more) remark_scatter(*stay.rest_sd_milli, outcome);
  occasion.margin = bins.margin;
  occasion.value = bins.value;
  occasion.limit = bins.limit;
  occasion.doubts = bins.doubts;
  if (!bins.lo_known) occasion.margin.lo.reset();
  const int64_t edge = form.bounds == Bounds::kUnder ? 1 : 0;
  if (may_close && (!occasion.margin.lo || *occasion.margin.lo < edge))
    occasion.doubts.insert(may_close->reason);
  if (bins.unsure_outside)  // Outside, but nobody can say whether in the phase.
    occasion.doubts.insert(Reason::kClockDoubt);
  if (bins.too_close) occasion.doubts.insert(Reason::kTooClose);
  if (form.limit.quantity == "line.free_roll" && bins.worst &&
      view.quantities.slippery(bins.worst->line_us))
    outcome.remarks.push_back("on ice or snow locked wheels slide as easily as free ones roll");
  for (const Hole& hole : holes) {
    occasion.doubts.insert(hole.reason);
    outcome.holes.push_back({hole.from_us, hole.to_us, hole.reason});
  }
  if (!span.closed) occasion.doubts.insert(Reason::kNotYet);
  if (!bins.any && occasion.doubts.empty()) occasion.doubts.insert(Reason::kNoData);
  cite(view, span.open, "opens", occasion);
  occasion.at_us = bins.worst ? bins.worst->line_us : span.open.time_us;
  if (bins.worst && bins.worst->line != kNoLine)
    occasion.evidence.push_back(evidence_of(view, bins.worst->line, "critical"));
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
  const auto stays = within_while(view, rule, view.facts.phase(form.phase));
  for (const PhaseSpan& span : until_freed(view, rule, stays)) {
    const auto placed = on_clock_of(view, sources, span);
    Occasion occasion = judge_span(view, rule, form, placed.value_or(span), rest, outcome);
    if (!placed) {  // Any reading may lie in the phase or out of it.
      occasion.margin.lo = occasion.margin.hi = std::nullopt;
      occasion.doubts.erase(Reason::kTooClose);
      occasion.doubts.insert(Reason::kClockDoubt);
    }
    occasions.push_back(std::move(occasion));
  }
  conclude_universal(view, rule, outcome, occasions, view.facts.opener(form.phase), form.bounds,
                     hidden_stays(view, rule, form.phase));
  out.push_back(std::move(outcome));
}

}  // namespace fairlead::judge
