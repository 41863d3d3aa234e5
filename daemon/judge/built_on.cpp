#include "daemon/judge/built_on.h"

#include <array>
#include <string_view>
#include <utility>

#include "daemon/judge/vocabulary.h"

namespace fairlead::judge {
namespace {

using Pair = std::pair<std::string_view, std::string_view>;

// Vocabulary 2 and 3: the first is worked out from the second.
constexpr std::array kFrom{
    Pair{"boost", "clamp.positive"},
    Pair{"boost", "clamp.negative"},
    Pair{"clamp.positive", "clamp.pos.contact"},
    Pair{"clamp.negative", "clamp.neg.contact"},
    Pair{"held_by_line_alone", "rigging"},
    Pair{"held_by_line_alone", "loaded"},
    Pair{"held_by_line_alone", "tied"},
    Pair{"line.taut", "line.pull"},
    Pair{"line.pulling", "line.pull"},
    Pair{"rolling", "mode.rolling"},
    Pair{"rolling", "line.pulling"},
    Pair{"rolling", "line.out"},
    Pair{"rolling", "deck.moving"},
    Pair{"rolling", "truck.moving"},
    Pair{"rolling", "wheels.on_skates"},
    Pair{"deck.moving", "deck.tilt"},
    Pair{"truck.moving", "truck.speed"},
    Pair{"truck.driven", "truck.speed"},
    Pair{"vehicle.rolled", "rolling"},
    Pair{"vehicle.rolled", "line.out"},
    Pair{"vehicle.speed", "line.out"},
    Pair{"line.leg_pull", "line.pull"},
    Pair{"line.leg_pull", "rigging.legs_angle"},
    Pair{"line.layer", "line.out"},
    Pair{"line.free_roll", "deck.tilt"},
    Pair{"first_touch", "clamp.positive"},
    Pair{"first_touch", "clamp.negative"},
    Pair{"first_touch", "rigging"},
    Pair{"working", "line.pulling"},
    Pair{"working", "boost"},
    Pair{"working", "deck.moving"},
};

void add(const Procedure& procedure, const std::string& name, std::set<std::string>& found) {
  const auto edge = fact_event(name);
  const std::string base = edge ? edge->fact : name;
  if (base.empty() || !found.insert(base).second) return;
  for (const Pair& pair : kFrom) {
    if (pair.first == base) add(procedure, std::string(pair.second), found);
  }
  if (!base.starts_with("phase:")) return;
  if (const Phase* phase = procedure.phase(base.substr(6))) {
    add(procedure, phase->opens, found);
    add(procedure, phase->closes, found);
  }
}

// Names each form mentions.
struct Names {
  const Procedure& procedure;
  std::set<std::string>& found;

  void take(const std::string& name) const { add(procedure, name, found); }
  void phase(const std::string& id) const { take("phase:" + id); }
  void limit(const Limit& limit) const { take(limit.quantity); }

  void operator()(const ComesFirst& f) const { take(f.first), take(f.then); }
  void operator()(const FollowsWithin& f) const { take(f.after), take(f.then); }
  void operator()(const StaysUntil& f) const { take(f.state), take(f.until); }
  void operator()(const WaitBetween& f) const { take(f.from), take(f.to); }
  void operator()(const LimitInPhase& f) const { phase(f.phase), take(f.quantity), limit(f.limit); }
  void operator()(const TotalInPhase& f) const { phase(f.phase), take(f.quantity), limit(f.limit); }
  void operator()(const NeverTogether& f) const { take(f.state), take(f.with); }
  void operator()(const EnoughStrength& f) const {
    phase(f.phase), take(f.tiedowns ? "tied" : "rigging");
  }
  void operator()(const RecheckEvery& f) const {
    phase(f.phase), take(f.check);
    if (f.distance || f.first_distance) take("truck.driven");
    if (f.time || f.first_time) take("truck.moving");
  }
  void operator()(const EvidencePresent& f) const {
    for (const std::string& item : f.items) take(item);
    take(f.before), take(f.after);
  }
  void operator()(const CountLimit& f) const { phase(f.phase), take(f.event); }
  void operator()(const SourcesAgree&) const {}  // Says itself how its sources stand.
  void operator()(const RuleSet& f) const {
    for (const Rule& rule : f.rules) std::visit(*this, rule.form);
  }
};

}  // namespace

std::set<std::string> built_on(const Procedure& procedure, const Rule& rule) {
  std::set<std::string> found;
  std::visit(Names{procedure, found}, rule.form);
  if (!rule.while_phase.empty()) add(procedure, "phase:" + rule.while_phase, found);
  return found;
}

std::set<std::string> built_on(const Procedure& procedure, const std::string& name) {
  std::set<std::string> found;
  add(procedure, name, found);
  return found;
}

}  // namespace fairlead::judge
