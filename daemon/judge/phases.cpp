// Phases of a job: built-in `job` and `handling`, and those a procedure declares by two events.
#include <algorithm>

#include "daemon/judge/fact_book.h"

namespace fairlead::judge {
namespace {

struct Edge {
  Stamp at;
  bool opens;
};

std::vector<Edge> edges_of(const std::vector<Stamp>& opens, const std::vector<Stamp>& closes) {
  std::vector<Edge> edges;
  for (const Stamp& stamp : opens) edges.push_back({stamp, true});
  for (const Stamp& stamp : closes) edges.push_back({stamp, false});
  // At one instant a phase closes before the next one opens.
  std::stable_sort(edges.begin(), edges.end(), [](const Edge& a, const Edge& b) {
    return a.at.time_us != b.at.time_us ? a.at.time_us < b.at.time_us : a.opens < b.opens;
  });
  return edges;
}

std::vector<PhaseSpan> spans_of(const std::vector<Edge>& edges) {
  std::vector<PhaseSpan> spans;
  bool open = false;
  for (const Edge& edge : edges) {
    if (edge.opens && !open) {
      spans.push_back({edge.at, edge.at, false});
      open = true;
    } else if (!edge.opens && open) {
      spans.back().close = edge.at;
      spans.back().closed = true;
      open = false;
    }
  }
  return spans;
}

// A change that does not last is none, open or closed; one that lasts is dated at its first edge.
std::vector<PhaseSpan> debounced(const std::vector<PhaseSpan>& spans, int64_t shortest_us) {
  if (shortest_us <= 0) return spans;
  Timeline open(Tri::kFalse);
  for (const PhaseSpan& span : spans) {
    open.add({span.open, Tri::kTrue, Reason::kNone});
    if (span.closed) open.add({span.close, Tri::kFalse, Reason::kNone});
  }
  open.normalize();
  std::vector<PhaseSpan> kept;
  const Timeline steady = open.debounced(shortest_us);
  for (const Change& change : steady.changes()) {
    if (change.value == Tri::kTrue) {
      kept.push_back({change.at, change.at, false});
    } else if (!kept.empty()) {
      kept.back().close = change.at;
      kept.back().closed = true;
    }
  }
  return kept;
}

}  // namespace

Stamp FactBook::job_end() const {
  Stamp end;
  if (lines_.closed() != kNoLine) end = lines_.line(lines_.closed()).stamp;
  end.time_us = lines_.end_us();
  return end;
}

const std::vector<PhaseSpan>& FactBook::phase(const std::string& id) {
  const auto found = phases_.find(id);
  if (found != phases_.end()) return found->second;
  std::vector<PhaseSpan> spans = build_phase(id);
  const Stamp end = job_end();
  std::erase_if(spans, [&](const PhaseSpan& span) { return span.open.time_us > end.time_us; });
  for (PhaseSpan& span : spans) {
    if (span.closed && span.close.time_us <= end.time_us) continue;
    span.close = end;
    span.closed = lines_.closed() != kNoLine;
    // Its closing event may hide where nobody can say whether the fact still held.
    if (const auto from = unknown_at_end(id)) {
      span.close.early_us += std::max(int64_t{0}, end.time_us - std::max(*from, span.open.time_us));
    }
  }
  return phases_.emplace(id, std::move(spans)).first->second;
}

// Since when, at the job's end, it is unknown whether the fact that closes the phase holds.
std::optional<int64_t> FactBook::unknown_at_end(const std::string& id) {
  const Phase* phase = procedure_->phase(id);
  const auto closing = phase == nullptr ? std::nullopt : fact_event(phase->closes);
  if (!closing) return std::nullopt;
  std::optional<int64_t> since;
  for (const Change& change : fact(closing->fact).changes()) {
    if (change.at.time_us >= job_end().time_us) break;
    if (change.value != Tri::kUnknown) {
      since.reset();
    } else if (!since) {
      since = change.at.time_us;
    }
  }
  return since;
}

std::optional<HiddenSpan> FactBook::may_close(const std::string& phase_id, const std::string& outer,
                                              const PhaseSpan& span) {
  std::optional<HiddenSpan> first;
  for (const std::string& id : {phase_id, outer}) {
    const Phase* phase = procedure_->phase(id);
    // What ends the job cannot hide before lines that go on.
    if (phase == nullptr || phase->closes == "closed" || phase->closes == "abandoned") continue;
    for (HiddenSpan hidden : hidden_in_gaps(phase->closes)) {
      // What closes at the instant of an opening comes before it.
      if (hidden.to_us <= span.open.time_us + 1 || hidden.from_us >= span.close.time_us) continue;
      hidden.from_us = std::max(hidden.from_us, span.open.time_us);
      if (!first || hidden.from_us < first->from_us) first = hidden;
    }
  }
  return first;
}

std::string FactBook::opener(const std::string& id) const {
  if (id == "job") return "opened";
  if (id == "handling") return "rigging.on";
  const Phase* phase = procedure_->phase(id);
  return phase == nullptr ? "" : phase->opens;
}

std::vector<PhaseSpan> FactBook::build_phase(const std::string& id) {
  if (id == "handling") return handlings();
  if (id == "job") {
    if (lines_.opened() == kNoLine) return {};
    return {{lines_.line(lines_.opened()).stamp, job_end(), lines_.closed() != kNoLine}};
  }
  const Phase* phase = procedure_->phase(id);
  if (phase == nullptr) return {};
  return debounced(spans_of(edges_of(events(phase->opens), events(phase->closes))),
                   phase->debounce_us);
}

// From rigging on (or free-rolling, or a pull) until rigging off, or until all wheels are on the
// deck, free-rolling is not in force and the deck stands.
std::vector<PhaseSpan> FactBook::handlings() {
  std::vector<Stamp> opens;
  for (const char* name : {"rigging.on", "mode.rolling.on", "line.pulling.on"}) {
    const auto& stamps = events(name);
    opens.insert(opens.end(), stamps.begin(), stamps.end());
  }
  const Timeline landed = timeline_and(
      fact("wheels.on_deck").as_input(),
      timeline_not(timeline_or(fact("mode.rolling").as_input(), fact("deck.moving").as_input())));
  std::vector<Stamp> closes = events("rigging.off");
  for (const Change& change : landed.changes()) {
    if (change.value == Tri::kTrue) closes.push_back(change.at);
  }
  return spans_of(edges_of(opens, closes));
}

}  // namespace fairlead::judge
