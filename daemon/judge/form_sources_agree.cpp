// sources_agree: |x - y| at most tol in P, or a claimed event confirmed by another source within T
// (G(P -> |x-y| <= tol); G(claim -> F[-T,T] edge): co-existence, responded existence).
// m = tol - |x - y| +- 1.645 sqrt(sx^2 + sy^2), or T - |t_edge - t_claim| in s.
//
// A person's word against an instrument is one-way: the instrument stands, the word deviates.
// Between equals nothing deviates: the finding is unproven(sources_disagree), and so becomes every
// rule built on the facts and quantities involved (Outcome::doubted). no_data where one is silent.
#include <fmt/format.h>

#include <algorithm>

#include "daemon/base/time_text.h"
#include "daemon/judge/margins.h"
#include "daemon/judge/vocabulary.h"
#include "daemon/judge/whole_math.h"

namespace fairlead::judge {
namespace {

bool is_said(const std::string& quantity) {
  return quantity == "source.nominal" || quantity == "isolation.distance" ||
         quantity == "rigging.legs_angle";
}

// Equals that contradict each other accuse nobody.
void disagree(const SourcesAgree& form, Occasion& occasion, Outcome& outcome) {
  occasion.margin.hi.reset();
  occasion.doubts = {Reason::kSourcesDisagree};
  for (const std::string& name : {form.claim.empty() ? form.quantity : form.claim, form.with})
    outcome.doubted.insert(name);
}

// Neighbouring readings of both, piece by piece.
Occasion compare_in(JobView& view, const Rule& rule, const SourcesAgree& form,
                    const PhaseSpan& stay, Outcome& outcome) {
  std::set<std::string> sources = view.quantities.sources(form.quantity);
  sources.insert(view.quantities.sources(form.with).begin(),
                 view.quantities.sources(form.with).end());
  const auto placed = on_clock_of(view, sources, stay);
  const PhaseSpan span = placed.value_or(stay);
  const auto may_close = view.facts.may_close(form.phase, rule.while_phase, span);
  const int64_t sure_to_us =
      may_close ? std::min(may_close->from_us, span.surely_to()) : span.surely_to();
  const Series& x = view.quantities.series(form.quantity, 0, 0);
  const Series& y = view.quantities.series(form.with, 0, 0);
  Occasion occasion;
  int line_x = kNoLine, line_y = kNoLine;
  size_t j = 0;
  for (const Piece& a : x.within(span.possibly_from(), span.possibly_to())) {
    while (j < y.pieces.size() && y.pieces[j].to_us <= a.from_us) ++j;
    for (size_t k = j; k < y.pieces.size() && y.pieces[k].from_us < a.to_us; ++k) {
      const Piece& b = y.pieces[k];
      const int64_t from = std::max(a.from_us, b.from_us), to = std::min(a.to_us, b.to_us);
      if (to <= span.possibly_from() || from >= span.possibly_to()) continue;
      const int64_t u = ceil_div(
          static_cast<Wide>(root_sum_square(a.sd_milli, b.sd_milli)) * kUPerMille, 1'000'000);
      const int64_t best = form.within - std::abs(a.value - b.value);
      if (!occasion.margin.lo || best - u < *occasion.margin.lo) occasion.margin.lo = best - u;
      const bool sure = from < sure_to_us && to > span.surely_from();
      if (sure && (!occasion.margin.hi || best + u < *occasion.margin.hi))
        occasion.margin.hi = best + u;
      if (occasion.margin.best && best >= *occasion.margin.best) continue;
      occasion.margin.best = best;
      occasion.value.best = std::abs(a.value - b.value);
      occasion.at_us = std::max(from, span.possibly_from());
      line_x = a.line;
      line_y = b.line;
    }
  }
  for (const Series* series : {&x, &y}) {
    for (const Hole& hole : series->holes(span.possibly_from(), span.possibly_to()))
      occasion.doubts.insert(hole.reason);
  }
  if (!placed) {  // Which readings belong beside each other, and in the phase, nobody can say.
    occasion.margin.lo = occasion.margin.hi = std::nullopt;
    occasion.doubts.insert(Reason::kClockDoubt);
  }
  if (!span.closed) occasion.doubts.insert(Reason::kNotYet);
  if (!occasion.at_us) occasion.at_us = span.open.time_us;
  cite(view, span.open, "opens", occasion);
  for (const int line : {line_x, line_y}) {
    if (line != kNoLine) occasion.evidence.push_back(evidence_of(view, line, "critical"));
  }
  occasion.basis = Basis::kMeasured;
  if (is_said(form.quantity) || is_said(form.with)) occasion.basis = Basis::kSaid;
  occasion.words = fmt::format("{} against {} in '{}'", form.quantity, form.with, form.phase);
  if (occasion.margin.hi && *occasion.margin.hi < 0 && is_said(form.quantity) == is_said(form.with))
    disagree(form, occasion, outcome);
  return occasion;
}

// Where a quantity surely jumps the way the claim says: up for F.on, down for F.off, else either.
std::vector<Stamp> jumps(JobView& view, const SourcesAgree& form) {
  const auto edge = fact_event(form.claim);
  const Series& series = view.quantities.series(form.with, 0, 0);
  std::vector<Stamp> found;
  for (size_t i = 0; i + 1 < series.pieces.size(); ++i) {
    const Piece& a = series.pieces[i];
    const Piece& b = series.pieces[i + 1];
    const int64_t u = ceil_div(
        static_cast<Wide>(root_sum_square(a.sd_milli, b.sd_milli)) * kUPerMille, 1'000'000);
    const int64_t step = b.value - a.value;
    const bool up = step > u, down = step < -u;
    if (!(edge ? (edge->on ? up : down) : up || down)) continue;
    Stamp at = view.lines.line(b.line).stamp;
    at.time_us = b.from_us;
    at.basis = Basis::kMeasured;
    found.push_back(at);
  }
  return found;
}

struct Witness {
  std::vector<Stamp> edges;
  bool instrument = false, speaks = false;
  std::vector<HiddenSpan> silent;  // Where it may have seen an edge unrecorded.
};

Witness witness_of(JobView& view, const Rule& rule, const SourcesAgree& form) {
  Witness witness;
  if (find_quantity(form.with) != nullptr) {
    witness.edges = jumps(view, form);
    const Series& series = view.quantities.series(form.with, 0, 0);
    witness.instrument = !is_said(form.with);
    witness.speaks = !series.pieces.empty() &&
                     view.quantities.calibrated(form.with, series.pieces.front().from_us);
    for (const Hole& hole : series.holes(view.lines.start_us(), view.lines.end_us()))
      witness.silent.push_back({hole.from_us, hole.to_us, hole.reason});
    return witness;
  }
  witness.edges = view.facts.events(form.with);
  witness.silent = gaps_for(view, rule, form.with);
  for (const std::string& source : view.facts.sources(form.with)) {
    witness.instrument = witness.instrument || (source != "operator" && source != "desk");
  }
  const auto edge = fact_event(form.with);
  witness.speaks = !witness.edges.empty() || !edge || view.facts.fact(edge->fact).named();
  return witness;
}

Occasion confirm(JobView& view, const SourcesAgree& form, const Stamp& claim,
                 const Witness& witness, Outcome& outcome) {
  Occasion occasion;
  const int64_t limit = form.within;
  const Stamp* nearest = nullptr;
  for (const Stamp& edge : witness.edges) {
    const auto span = time_from_to(claim, edge);
    if (!span) {
      occasion.doubts.insert(Reason::kClockDoubt);
      continue;
    }
    const auto away = [](int64_t us) { return us < 0 ? -us : us; };
    const int64_t far = std::max(away(span->lo_us), away(span->hi_us));
    const int64_t near =
        span->lo_us <= 0 && span->hi_us >= 0 ? 0 : std::min(away(span->lo_us), away(span->hi_us));
    occasion.margin.lo = std::max(occasion.margin.lo.value_or(kBeginning), limit - far);
    occasion.margin.hi = std::max(occasion.margin.hi.value_or(kBeginning), limit - near);
    if (nearest != nullptr && limit - away(span->best_us) <= *occasion.margin.best) continue;
    occasion.margin.best = limit - away(span->best_us);
    nearest = &edge;
  }
  if (occasion.doubts.contains(Reason::kClockDoubt)) occasion.margin.hi = limit;
  if (straddles(occasion.margin)) occasion.doubts.insert(Reason::kClockDoubt);
  for (const HiddenSpan& span : witness.silent) {
    if (span.to_us < claim.time_us - limit || span.from_us > claim.time_us + limit) continue;
    occasion.margin.hi = limit;
    occasion.doubts.insert(span.reason);
  }
  if (!witness.speaks) {
    occasion.margin.hi.reset();
    occasion.doubts.insert(Reason::kNoData);
  } else if (!occasion.margin.hi) {
    occasion.margin.hi = -1;  // No edge at all: outside by an unknown amount.
  }
  if (view.lines.closed() == kNoLine && claim.time_us + limit > view.lines.end_us() &&
      !(occasion.margin.lo && *occasion.margin.lo >= 0)) {
    occasion.doubts.insert(Reason::kNotYet);
    occasion.margin.hi = limit;
  }
  clear_if_inside(occasion);
  occasion.at_us = claim.time_us;
  cite(view, claim, "opens", occasion);
  if (nearest != nullptr) cite(view, *nearest, "critical", occasion);
  occasion.words = nearest != nullptr
                       ? fmt::format("{} beside {}, claimed at", form.with, form.claim)
                       : fmt::format("no {} beside {}, claimed at", form.with, form.claim);
  const bool said = claim.basis != Basis::kMeasured;
  if (occasion.margin.hi && *occasion.margin.hi < 0 && said != witness.instrument)
    disagree(form, occasion, outcome);
  return occasion;
}

}  // namespace

void judge_form(JobView& view, const Rule& rule, const SourcesAgree& form, Outcomes& out) {
  const std::string& first = form.claim.empty() ? form.quantity : form.claim;
  Outcome outcome{.rule_id = rule.id,
                  .worst = {},
                  .dimension = form.dimension,
                  .unit = form.unit,
                  .quantity = fmt::format("{} against {}", first, form.with),
                  .limit = "",
                  .limit_stored = form.within,
                  .listened = view.facts.sources(view.facts.opener(form.phase)),
                  .remarks = {}};
  outcome.limit = "within ";
  outcome.limit += form.dimension == Dimension::kTime
                       ? span_words(form.within)
                       : printed(outcome, form.within, Toward::kNearest) + " " + outcome.unit;
  for (const std::string& name : {first, form.with}) {
    const auto more =
        find_quantity(name) != nullptr ? view.quantities.sources(name) : view.facts.sources(name);
    outcome.listened.insert(more.begin(), more.end());
  }
  const auto stays = within_while(view, rule, view.facts.phase(form.phase));
  const auto spans = form.claim.empty() ? until_freed(view, rule, stays) : stays;
  std::vector<Occasion> occasions;
  if (form.claim.empty()) {
    for (const PhaseSpan& span : spans)
      occasions.push_back(compare_in(view, rule, form, span, outcome));
    conclude_universal(view, rule, outcome, occasions, view.facts.opener(form.phase),
                       Bounds::kAtLeast, hidden_stays(view, rule, form.phase));
  } else {
    const Witness witness = witness_of(view, rule, form);
    for (const Stamp& claim : view.facts.events(form.claim)) {
      const auto stay = std::find_if(spans.begin(), spans.end(), [&](const PhaseSpan& span) {
        return span.open.time_us <= claim.time_us && claim.time_us <= span.close.time_us;
      });
      if (stay == spans.end() || excused(view, rule, claim.time_us)) continue;
      occasions.push_back(confirm(view, form, claim, witness, outcome));
      const auto may_close = view.facts.may_close(form.phase, rule.while_phase, *stay);
      Occasion& occasion = occasions.back();
      if (!may_close || may_close->from_us > claim.time_us || !occasion.margin.hi ||
          *occasion.margin.hi >= 0)
        continue;
      occasion.margin.hi = form.within;
      occasion.doubts.insert(may_close->reason);
    }
    conclude_universal(view, rule, outcome, occasions, form.claim, Bounds::kAtLeast);
  }
  if (outcome.worst.margin.hi == -1 && !outcome.worst.margin.best) outcome.worst.margin.hi.reset();
  out.push_back(std::move(outcome));
}

}  // namespace fairlead::judge
