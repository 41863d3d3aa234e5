// Readings of order, custody, things and times; the groups put together.
#include "reports/claim/readings.h"

#include <algorithm>
#include <cstdlib>
#include <map>

#include "daemon/base/time_text.h"
#include "daemon/base/units.h"

namespace fairlead::reports {
namespace {

using Kind = v1::Observation::KindCase;

template <typename Visit>
void each_mark(const JobFacts& facts, const Visit& visit) {
  for (const auto& mark : facts.lines) {
    if (!mark.taken_back) visit(*mark.line, mark.time_us);
  }
}

bool signed_release(const JobFacts& facts) {
  bool has = false;
  each_mark(facts, [&](const v1::Observation& line, int64_t) {
    has = has || (line.has_custody() && line.custody().event() != v1::Custody::TAKEN &&
                  line.custody().has_sha256());
  });
  return has;
}

// From first touch to release somebody must have the car.
Reading custody_whole(const ReadingInput& in) {
  const JobFacts& f = in.facts;
  Reading r{
      "custody_whole", "Custody from first touch to release", Side::kNotShown, "", "", "said", ""};
  if (!f.taken && !f.released) {
    r.words = "no taking and no release of custody is on record";
    return r;
  }
  r.limit = "no gap";
  std::vector<std::string> holes;
  if (!f.taken) holes.emplace_back("no taking of custody is on record");
  if (f.taken && f.first_touch && *f.first_touch < *f.taken)
    holes.push_back("the car was touched " + span_words(*f.taken - *f.first_touch) +
                    " before custody was taken");
  if (!f.released && f.closed) holes.emplace_back("no release of custody is on record");
  if (!holes.empty()) {
    r.side = Side::kOutside;
    r.value = counted(holes.size(), "gap", "gaps");
    r.words = listed(holes);
    return r;
  }
  if (!f.released) {
    r.words = "the job is not closed";
    return r;
  }
  r.side = Side::kInside;
  r.value = in.local.clock(*f.taken) + " to " + in.local.clock(*f.released);
  r.words = "taken before the first touch and " + f.released_how + " at the end" +
            (signed_release(f) ? ", with a signature on record" : ", without a signature");
  return r;
}

std::string item_name(const v1::Item& item) {
  std::string name = v1::Item::Kind_Name(item.kind());
  for (char& c : name) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
  if (item.has_bag()) name += " in bag " + shown(item.bag());
  return name;
}

// What was taken must be given back under the same bag number.
Reading items_back(const ReadingInput& in) {
  Reading r{"items_back", "Things taken and given back", Side::kNotShown, "", "", "said", ""};
  std::vector<std::string> taken, missing;
  std::map<std::string, int> open;
  size_t given = 0, noted = 0;
  each_mark(in.facts, [&](const v1::Observation& line, int64_t) {
    if (!line.has_item()) return;
    ++noted;
    const std::string name = item_name(line.item());
    if (line.item().state() == v1::Item::TAKEN) {
      taken.push_back(name);
      ++open[name];
    }
    if (line.item().state() == v1::Item::GIVEN && open[name] > 0) {
      --open[name];
      ++given;
    }
  });
  for (const auto& [name, count] : open) {
    for (int i = 0; i < count; ++i) missing.push_back(name);
  }
  if (noted == 0) {
    r.words = "no thing and no key is listed on record";
    return r;
  }
  if (taken.empty()) {
    r.words = counted(noted, "thing is", "things are") + " listed, none as taken";
    return r;
  }
  r.value = grouped(given) + " of " + grouped(taken.size()) + " given back";
  r.limit = "all";
  r.words = "listed as taken: " + listed(taken);
  if (missing.empty()) {
    r.side = Side::kInside;
  } else if (in.facts.released && in.facts.released_how != "stored") {
    r.side = Side::kOutside;
    r.words += "; not listed as given back: " + listed(missing);
  } else {
    r.words += "; that the car was given back is not on record either";
  }
  return r;
}

void add_arrival(const ReadingInput& in, std::vector<Reading>& out) {
  const JobFacts& f = in.facts;
  if (!f.promised) return;
  Reading r{"arrived_by", "Arrival by the promised time", Side::kNotShown, "", "", "said", ""};
  r.limit = in.local.date_clock(*f.promised);
  if (!f.arrived) {
    r.words = "no arrival is on record";
  } else {
    r.value = in.local.date_clock(*f.arrived);
    r.side = *f.arrived <= *f.promised ? Side::kInside : Side::kOutside;
    const int64_t apart = *f.arrived - *f.promised;
    r.words = span_words(apart) + (apart <= 0 ? " before" : " after") + " the promised time";
    if (f.opened && *f.promised > *f.opened && *f.arrived >= *f.opened)
      r.words += "; " + span_words(*f.arrived - *f.opened) + " of " +
                 span_words(*f.promised - *f.opened) + " after the job was opened";
  }
  out.push_back(std::move(r));
}

// The ordered place stands in no line, so a place can be told and not compared.
void add_delivery(const ReadingInput& in, std::vector<Reading>& out) {
  if (!in.facts.released) return;
  Reading r{"delivered", "Where the car was left", Side::kFigure, "", "", "said", ""};
  each_mark(in.facts, [&](const v1::Observation& line, int64_t time_us) {
    if (!line.has_custody() || line.custody().event() == v1::Custody::TAKEN) return;
    r.value = in.local.clock(time_us);
    r.words = in.facts.released_how +
              (line.custody().has_place() ? " at " + shown(line.custody().place()) : "") +
              (line.custody().has_to() ? " to " + card_name(in.record, line.custody().to()) : "");
  });
  const v1::Observation* nearest = nullptr;
  int64_t best = 120'000'000;
  for (const auto& line : in.record.lines) {
    if (!line.has_fix() || line.source() != "gps.truck") continue;
    const auto time = parse_time_us(line.time());
    if (!time || std::abs(*time - *in.facts.released) > best) continue;
    best = std::abs(*time - *in.facts.released);
    nearest = &line;
  }
  if (nearest != nullptr)
    r.words += "; the truck stood at latitude " + fixed(nearest->fix().lat_deg(), 5) +
               ", longitude " + fixed(nearest->fix().lon_deg(), 5);
  out.push_back(std::move(r));
}

void add_opening(const ReadingInput& in, std::vector<Reading>& out) {
  std::vector<std::string> means;
  bool tool = false, found = false;
  auto power = v1::Found::POWER_UNSET;
  each_mark(in.facts, [&](const v1::Observation& line, int64_t) {
    if (line.has_found()) power = line.found().power();
    if (!line.has_door()) return;
    found = true;
    tool = tool || line.door().means() == v1::Door::TOOL;
    const std::string word = line.door().means() == v1::Door::TOOL ? "a tool"
                             : line.door().means() == v1::Door::MECHANICAL
                                 ? "the mechanical release"
                                 : "the electric way";
    if (std::find(means.begin(), means.end(), word) == means.end()) means.push_back(word);
  });
  if (!found) return;
  Reading r{"tool_needed",
            "No tool while the car has power",
            Side::kInside,
            "",
            "no tool with power",
            "said",
            ""};
  r.value = "opened by " + listed(means);
  const char* state = power == v1::Found::FULL   ? "full"
                      : power == v1::Found::LOW  ? "low"
                      : power == v1::Found::NONE ? "none"
                                                 : "not stated";
  r.words = std::string("low voltage when found: ") + state;
  if (tool && power == v1::Found::FULL) r.side = Side::kOutside;
  if (tool && power != v1::Found::FULL && power != v1::Found::NONE) r.side = Side::kNotShown;
  out.push_back(std::move(r));
}

// The stated voltage of the source against the window of the vehicle file.
void add_source(const ReadingInput& in, std::vector<Reading>& out) {
  double stated = 0;
  each_mark(in.facts, [&](const v1::Observation& line, int64_t) {
    if (line.has_source_power() && line.source_power().on())
      stated = std::max(stated, line.source_power().nominal_volts());
  });
  if (stated <= 0) return;
  Reading r{"source_class", "Jump source of the car's class", Side::kNotShown, "", "", "said", ""};
  r.value = fixed(stated, 0) + " V stated";
  const v1::Vehicle* car = vehicle_of(in);
  const auto volts = [](const std::string& text) -> std::optional<double> {
    const auto read = parse_quantity(text, Dimension::kVoltage);
    if (!read) return std::nullopt;
    return static_cast<double>(read->stored.num) / static_cast<double>(read->stored.den) / 1000;
  };
  const auto lo = car ? volts(car->boost_min()) : std::nullopt;
  const auto hi = car ? volts(car->boost_max()) : std::nullopt;
  if (!lo || !hi) {
    r.words = "no jump start window for this car is on record";
  } else {
    r.limit = shown(car->boost_min()) + " to " + shown(car->boost_max());
    r.side = stated >= *lo && stated <= *hi ? Side::kInside : Side::kOutside;
    r.words = "the class the operator stated for the source; what it gave is measured apart";
  }
  out.push_back(std::move(r));
}

}  // namespace

void add_custody_readings(const ReadingInput& in, std::vector<Reading>& out) {
  out.push_back(custody_whole(in));
  out.push_back(items_back(in));
  add_arrival(in, out);
  add_delivery(in, out);
  add_opening(in, out);
  add_source(in, out);
}

const std::vector<std::string>& reading_ids() {
  static const std::vector<std::string> kIds = {"custody_whole",     "items_back",
                                                "arrived_by",        "delivered",
                                                "tool_needed",       "source_class",
                                                "point_listed",      "gear_allowed",
                                                "strap_on_tread",    "driven_wheels_off_ground",
                                                "approach_margin",   "break_over",
                                                "ramps_if_negative", "pull_peak",
                                                "pull_rise",         "motion_forward",
                                                "motion_rearward",   "motion_left",
                                                "motion_right"};
  return kIds;
}

std::vector<Reading> readings_of(const ReadingInput& in) {
  std::vector<Reading> out;
  add_custody_readings(in, out);
  add_rigging_readings(in, out);
  add_deck_readings(in, out);
  add_motion_readings(in, out);
  return out;
}

const char* side_words(Side side) {
  switch (side) {
    case Side::kInside:
      return "inside";
    case Side::kOutside:
      return "outside";
    case Side::kFigure:
      return "a figure, no limit";
    case Side::kNotShown:
      break;
  }
  return "not shown";
}

const v1::Vehicle* vehicle_of(const ReadingInput& in) {
  for (const auto& car : in.record.register_files.vehicle()) {
    if (car.id() == in.facts.vehicle) return &car;
  }
  return nullptr;
}

std::string gear_places(const JobFacts& facts) {
  std::vector<std::string> places;
  const auto add = [&](std::string place) {
    if (std::find(places.begin(), places.end(), place) == places.end())
      places.push_back(std::move(place));
  };
  const auto spaced = [](std::string text) {
    for (char& c : text) c = c == '_' || c == ':' ? ' ' : c;
    return shown(text);
  };
  each_mark(facts, [&](const v1::Observation& line, int64_t) {
    switch (line.kind_case()) {
      case Kind::kRigging:
        return add("point " + spaced(line.rigging().point()));
      case Kind::kTiedown:
        return add(line.tiedown().has_wheel() ? "wheel " + shown(line.tiedown().wheel())
                                              : "point " + spaced(line.tiedown().point()));
      case Kind::kCover:
        return add("cover " + spaced(line.cover().which()));
      case Kind::kDoor:
        return add("door " + spaced(line.door().which()));
      case Kind::kClamp:
        if (line.clamp().at() == v1::Clamp::VEHICLE) add("the clamps' terminals");
        return;
      case Kind::kConnector:
        return add("the charge port");
      default:
        return;
    }
  });
  constexpr size_t kMost = 8;
  if (places.size() > kMost) {
    const size_t more = places.size() - kMost + 1;
    places.resize(kMost - 1);
    places.push_back(count_word(more) + " more places");
  }
  return listed(places);
}

std::string authority_words(const JobFacts& facts) {
  std::string out;
  each_mark(facts, [&](const v1::Observation& line, int64_t) {
    if (!line.has_authority()) return;
    std::string kind = v1::Authority::Kind_Name(line.authority().kind());
    for (char& c : kind) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
    out = kind + ", reference " + shortened(shown(line.authority().reference()), 120);
  });
  return out;
}

}  // namespace fairlead::reports
