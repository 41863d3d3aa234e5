// Readings of hook-up, straps and wheels: against the vehicle file's list, not against what held.
#include <algorithm>
#include <array>
#include <map>
#include <set>

#include "reports/claim/readings.h"

namespace fairlead::reports {
namespace {

std::string spaced(std::string text) {
  std::replace(text.begin(), text.end(), '_', ' ');
  return shown(text);
}

std::string kind_words(v1::GearKind::Word kind) {
  std::string text = v1::GearKind::Word_Name(kind);
  for (char& c : text) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
  return spaced(text);
}

struct Hooked {
  std::string point;
  std::vector<std::string> gear;
};

std::vector<Hooked> hook_ups(const JobFacts& facts) {
  std::vector<Hooked> out;
  for (const auto& mark : facts.lines) {
    if (mark.taken_back || !mark.line->has_rigging() || !mark.line->rigging().on()) continue;
    const auto& said = mark.line->rigging();
    out.push_back({said.point(), {said.gear().begin(), said.gear().end()}});
  }
  return out;
}

const v1::AttachPoint* listed_point(const v1::Vehicle& car, const std::string& id) {
  for (const auto& point : car.point()) {
    if (point.id() == id) return &point;
  }
  return nullptr;
}

void add_point(const ReadingInput& in, const std::vector<Hooked>& hooked,
               std::vector<Reading>& out) {
  Reading r{
      "point_listed", "Hooked at a point of the maker's list", Side::kNotShown, "", "", "said", ""};
  std::vector<std::string> used, strange;
  const v1::Vehicle* car = vehicle_of(in);
  for (const auto& one : hooked) {
    const std::string name = spaced(one.point);
    if (std::find(used.begin(), used.end(), name) != used.end()) continue;
    used.push_back(name);
    const auto* point = car ? listed_point(*car, one.point) : nullptr;
    if (point == nullptr || point->kind() == v1::AttachPoint::SUSPENSION)
      strange.push_back(name + (point ? " (suspension)" : ""));
  }
  r.value = listed(used);
  if (car == nullptr || car->point().empty()) {
    r.words = "the vehicle file lists no points";
  } else {
    r.limit = "a point of the vehicle file";
    r.side = strange.empty() ? Side::kInside : Side::kOutside;
    r.words = strange.empty() ? "each point used stands in the vehicle file"
                              : "not in the vehicle file as a point to pull by: " + listed(strange);
  }
  out.push_back(std::move(r));
}

// Which piece touched the point is not recorded: it is inside only where every piece may, outside
// only where none may.
void add_gear(const ReadingInput& in, const std::vector<Hooked>& hooked,
              std::vector<Reading>& out) {
  Reading r{"gear_allowed",
            "Gear that the maker allows at the point",
            Side::kNotShown,
            "",
            "",
            "said",
            ""};
  const v1::Vehicle* car = vehicle_of(in);
  bool all_may = true, some_point_none = false, unknown = false;
  std::vector<std::string> used, allowed;
  const auto note = [](std::vector<std::string>& list, const std::string& word) {
    if (std::find(list.begin(), list.end(), word) == list.end()) list.push_back(word);
  };
  for (const auto& one : hooked) {
    const auto* point = car ? listed_point(*car, one.point) : nullptr;
    if (point == nullptr || point->gear().empty() || one.gear.empty()) unknown = true;
    bool any_may = false;
    for (const auto& id : one.gear) {
      const auto& all = in.record.register_files.gear();
      const auto gear =
          std::find_if(all.begin(), all.end(), [&](const auto& g) { return g.id() == id; });
      if (gear == all.end()) {
        unknown = true;
        note(used, shown(id));
        continue;
      }
      note(used, kind_words(gear->kind()));
      const bool may = point != nullptr && std::find(point->gear().begin(), point->gear().end(),
                                                     gear->kind()) != point->gear().end();
      any_may = any_may || may;
      all_may = all_may && may;
    }
    for (const auto kind : point ? point->gear() : google::protobuf::RepeatedField<int>())
      note(allowed, kind_words(static_cast<v1::GearKind::Word>(kind)));
    if (!any_may && !unknown) some_point_none = true;
  }
  r.value = used.empty() ? "no gear named" : listed(used);
  r.limit = listed(allowed);
  if (unknown) {
    r.words = "the gear used, or what the maker allows at the point, is not on record";
  } else if (all_may) {
    r.side = Side::kInside;
    r.words = "the vehicle file allows this gear at the points used";
  } else if (some_point_none) {
    r.side = Side::kOutside;
    r.words = "the vehicle file allows none of this gear at a point that was used";
  } else {
    r.words = "which piece lay in the point is not on record";
  }
  out.push_back(std::move(r));
}

void add_straps(const ReadingInput& in, std::vector<Reading>& out) {
  size_t tread = 0, spokes = 0, unsaid = 0;
  for (const auto& mark : in.facts.lines) {
    if (mark.taken_back || !mark.line->has_tiedown()) continue;
    const auto& said = mark.line->tiedown();
    if (!said.on() || !said.has_wheel()) continue;
    tread += said.over() == v1::Tiedown::TREAD;
    spokes += said.over() == v1::Tiedown::SPOKES;
    unsaid += !said.has_over() || said.over() == v1::Tiedown::OVER_UNSET;
  }
  const size_t all = tread + spokes + unsaid;
  if (all == 0) return;
  Reading r{"strap_on_tread",
            "Wheel straps over the tread",
            Side::kNotShown,
            "",
            "over the tread",
            "said",
            ""};
  r.value = grouped(tread) + " of " + grouped(all) + " over the tread";
  if (spokes > 0) {
    r.side = Side::kOutside;
    r.words = counted(spokes, "strap", "straps") + " through the spokes";
  } else if (unsaid > 0) {
    r.words = "for " + counted(unsaid, "strap", "straps") + " the way over the wheel was not noted";
  } else {
    r.side = Side::kInside;
    r.words = "each wheel strap was noted over the tread";
  }
  out.push_back(std::move(r));
}

// The four wheels, what hangs on the car, and the truck: at any moment.
class Wheels {
 public:
  explicit Wheels(v1::Vehicle::Driven driven) : driven_(driven) {}
  void take(const v1::Observation& line) {
    if (line.has_wheels()) {
      for (auto& [name, on] : on_) {
        if (line.wheels().which() == "ALL" || line.wheels().which() == name)
          on = line.wheels().on();
      }
    }
    if (line.has_rigging()) {
      if (line.rigging().on()) hooked_.insert(line.rigging().point());
      if (!line.rigging().on()) hooked_.erase(line.rigging().point());
    }
    if (line.has_line()) slack_ = line.line().state() == v1::Line::SLACK;
    if (line.has_truck_motion()) moving_ = line.truck_motion().moving();
  }
  // The car goes with the truck only if it hangs on it.
  [[nodiscard]] bool moves_with_truck() const {
    const bool lifted = std::any_of(on_.begin(), on_.end(), [](const auto& wheel) {
      return wheel.second != v1::Wheels::GROUND;
    });
    return moving_ && (lifted || (!hooked_.empty() && !slack_));
  }
  [[nodiscard]] bool driven_down() const {
    return std::any_of(on_.begin(), on_.end(), [&](const auto& wheel) {
      const bool front = wheel.first[1] == 'F';
      const bool drives = driven_ == v1::Vehicle::ALL || driven_ == v1::Vehicle::DRIVEN_UNSET ||
                          (driven_ == v1::Vehicle::FRONT) == front;
      return drives && wheel.second == v1::Wheels::GROUND;
    });
  }

 private:
  v1::Vehicle::Driven driven_;
  std::map<std::string, v1::Wheels::On> on_ = {{"LF", v1::Wheels::GROUND},
                                               {"RF", v1::Wheels::GROUND},
                                               {"LR", v1::Wheels::GROUND},
                                               {"RR", v1::Wheels::GROUND}};
  std::set<std::string> hooked_;
  bool moving_ = false, slack_ = false;
};

void add_driven(const ReadingInput& in, std::vector<Reading>& out) {
  const v1::Vehicle* car = vehicle_of(in);
  const auto driven = car ? car->driven() : v1::Vehicle::DRIVEN_UNSET;
  Wheels wheels(driven);
  size_t moves = 0;
  bool on = false;
  std::optional<int64_t> down_at;
  for (const auto& mark : in.facts.lines) {
    if (mark.taken_back) continue;
    wheels.take(*mark.line);
    const bool now = wheels.moves_with_truck();
    moves += now && !on;
    on = now;
    if (now && wheels.driven_down() && !down_at) down_at = mark.time_us;
  }
  if (moves == 0) return;
  Reading r{"driven_wheels_off_ground",
            "Driven wheels off the ground while the truck moves",
            Side::kInside,
            "",
            "off the ground",
            "said",
            ""};
  r.value = counted(moves, "move", "moves") + " of the truck with the car";
  r.words = "by the marks of wheels and hook-up; how far is told by the truck's own speed";
  if (down_at && driven == v1::Vehicle::DRIVEN_UNSET) {
    r.side = Side::kNotShown;
    r.words = "wheels were on the ground, and which are driven is not in the vehicle file";
  } else if (down_at) {
    r.side = Side::kOutside;
    r.value = "on the ground at " + in.local.clock(*down_at);
    r.words =
        "the truck moved while the car was hooked up and driven wheels were noted on the ground";
  }
  out.push_back(std::move(r));
}

}  // namespace

void add_rigging_readings(const ReadingInput& in, std::vector<Reading>& out) {
  if (const auto hooked = hook_ups(in.facts); !hooked.empty()) {
    add_point(in, hooked, out);
    add_gear(in, hooked, out);
  }
  add_straps(in, out);
  add_driven(in, out);
}

}  // namespace fairlead::reports
