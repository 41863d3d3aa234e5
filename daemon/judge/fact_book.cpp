#include "daemon/judge/fact_book.h"

#include <algorithm>
#include <cmath>

#include "daemon/judge/instrument_boost.h"
#include "daemon/judge/instrument_facts.h"
#include "daemon/judge/instrument_hold.h"
#include "daemon/judge/line_facts.h"
#include "daemon/judge/tag_fixes.h"
#include "daemon/judge/whole_math.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kShortestChangeUs = 500'000;
constexpr std::string_view kOperator = "operator";

bool of_a_clamp(std::string_view fact) {
  return fact.starts_with("clamp.") || fact.starts_with("lid.");
}

// Who says the one may have said the other in a lost line: any clamp's state, any picture.
bool akin(std::string_view a, std::string_view b) {
  return a == b || (of_a_clamp(a) && of_a_clamp(b)) ||
         (a.starts_with("photo") && b.starts_with("photo"));
}

void set_unknown(Timeline& timeline, int64_t from_us, Reason why) {
  Change unknown{.at = {}, .value = Tri::kUnknown, .why_unknown = why};
  unknown.at.time_us = from_us;
  timeline.add(unknown);
}

}  // namespace

FactBook::FactBook(const JobLines& lines, Quantities& quantities, const JobParties& parties)
    : lines_(lines), quantities_(quantities), parties_(parties) {
  read_lines();
}

void FactBook::follow(int64_t changed_from_us) {
  std::erase_if(begun_, [&](const auto& entry) {
    return entry.second.to_us + kLongestRunUs > changed_from_us;
  });
  said_.clear();
  momentary_.clear();
  said_by_.clear();
  facts_.clear();
  events_.clear();
  phases_.clear();
  read_lines();
}

void FactBook::read_lines() {
  WheelStates wheels = kAllOnGround;
  const v1::Vehicle::Driven driven =
      parties_.vehicle == nullptr ? v1::Vehicle::DRIVEN_UNSET : parties_.vehicle->text.driven();
  std::map<std::string, std::set<std::string>> points, tied;
  for (const int index : lines_.spoken()) {  // No sample, fix or alive says a fact.
    const JobLine& line = lines_.line(index);
    const v1::Observation& observation = *line.observation;
    // Later than the job's end, unless its clock tells nothing about that.
    if (line.stamp.time_us > lines_.end_us() && line.stamp.clock_u_us >= 0) continue;
    Stamp stamp = line.stamp;
    stamp.basis = basis_of_line(observation);
    const SetFact set = [&](const std::string& fact, Tri value) {
      said_[fact].push_back({stamp, line.good ? value : Tri::kUnknown});
      said_by_[fact].insert(observation.source());
    };
    const auto hold = [&](const std::string& fact, std::set<std::string>& holders,
                          const std::string& key, bool on) {
      if (on)
        holders.insert(key);
      else
        holders.erase(key);
      set(fact, holders.empty() ? Tri::kFalse : Tri::kTrue);
    };
    facts_of_line(observation, set);
    if (observation.has_wheels()) wheel_facts(observation.wheels(), driven, wheels, set);
    if (observation.has_rigging()) {
      const v1::Rigging& rigging = observation.rigging();
      hold("rigging", points[""], rigging.point(), rigging.on());
      set("rigging:" + rigging.point(), rigging.on() ? Tri::kTrue : Tri::kFalse);
    }
    if (observation.has_tiedown()) {
      const v1::Tiedown& tiedown = observation.tiedown();
      hold("tied", tied[""], piece_of(tiedown), tiedown.on());
      if (tiedown.has_wheel())
        hold("tied:" + tiedown.wheel(), tied[tiedown.wheel()], tiedown.gear(), tiedown.on());
    }
    events_of_line(observation, [&](const std::string& event) {
      momentary_[event].push_back(stamp);
      said_by_[event].insert(observation.source());
    });
  }
}

void FactBook::use(const Procedure& procedure) {
  const bool ages_differ = !procedure.longest_age_us.empty() ||
                           (procedure_ != nullptr && !procedure_->longest_age_us.empty());
  procedure_ = &procedure;
  phases_.clear();
  if (ages_differ) {
    facts_.clear();
    events_.clear();
  }
  std::erase_if(facts_, [](const auto& entry) { return entry.first.starts_with("phase:"); });
  std::erase_if(events_, [](const auto& entry) { return entry.first.starts_with("phase:"); });
}

// Who says one clamp's state may have said any clamp's.
bool FactBook::may_speak(const std::string& source, const std::string& name) const {
  const auto by = said_by_.find(name);
  if (by != said_by_.end() && by->second.contains(source)) return true;
  return of_a_clamp(name) && std::any_of(said_by_.begin(), said_by_.end(), [&](const auto& entry) {
           return of_a_clamp(entry.first) && entry.second.contains(source);
         });
}

// Whether a line lost meanwhile may have said otherwise after a word of that time.
bool FactBook::in_gap(const std::string& name, int64_t time_us) const {
  return std::any_of(lines_.gaps().begin(), lines_.gaps().end(), [&](const SourceGap& gap) {
    return (is_person(gap.source) || may_speak(gap.source, name)) &&
           (gap.channel.empty() || gap.channel == name) && gap.from_us < time_us &&
           time_us < gap.to_us;
  });
}

// A fact as people say it, unknown after each gap of a source that could have said more.
Timeline FactBook::word_fact(const std::string& name) const {
  Timeline timeline(initial_of(name));
  const auto said = said_.find(name);
  // Steering that is not by wire answers without power, and no lost line says otherwise.
  const bool mechanical = name == "steering.live" && parties_.vehicle != nullptr &&
                          !parties_.vehicle->text.steer_by_wire();
  if (mechanical && said == said_.end()) return Timeline(Tri::kTrue);
  // From an instrument's first line on it stands, whatever words are said or lost.
  const int64_t measured_from_us = first_measured_us(name);
  if (said != said_.end()) {
    for (const Said& one : said->second) {
      const bool word = one.stamp.basis == Basis::kSaid;
      if (word && (one.stamp.time_us >= measured_from_us || in_gap(name, one.stamp.time_us)))
        continue;
      timeline.add(
          {one.stamp, one.value, one.value == Tri::kUnknown ? Reason::kNoData : Reason::kNone});
    }
    forget_aged(name, said->second, timeline);
  }
  for (const SourceGap& gap : lines_.gaps()) {
    if (!may_speak(gap.source, name) && !is_person(gap.source)) continue;
    if (!gap.channel.empty() && gap.channel != name) continue;
    if (is_person(gap.source) && gap.from_us >= measured_from_us) continue;
    set_unknown(timeline, std::max(gap.from_us + 1, lines_.start_us() + 1), gap.reason);
  }
  timeline.normalize();
  return timeline;
}

// When the first line of an instrument speaks of the fact; kForever when none does.
int64_t FactBook::first_measured_us(const std::string& name) const {
  const auto said = said_.find(name);
  if (said == said_.end()) return kForever;
  const auto first = std::find_if(said->second.begin(), said->second.end(), [&](const Said& one) {
    return one.stamp.basis == Basis::kMeasured;
  });
  return first == said->second.end() ? kForever : first->stamp.time_us;
}

// A word holds no longer than the procedure's longest age of it.
void FactBook::forget_aged(const std::string& name, const std::vector<Said>& said,
                           Timeline& timeline) const {
  const auto age = procedure_->longest_age_us.find(name);
  if (age == procedure_->longest_age_us.end()) return;
  for (size_t i = 0; i < said.size(); ++i) {
    const int64_t until_us = said[i].stamp.time_us + age->second;
    const bool said_again = i + 1 < said.size();
    if (said_again && said[i + 1].stamp.time_us <= until_us) continue;
    if (!said_again && until_us >= lines_.end_us()) continue;
    set_unknown(timeline, until_us, said_again ? Reason::kNoData : Reason::kCutShort);
  }
}

const Timeline& FactBook::fact(const std::string& name) {
  const auto found = facts_.find(name);
  if (found != facts_.end()) return found->second;
  Timeline built = build(name).debounced(kShortestChangeUs);
  return facts_.emplace(name, std::move(built)).first->second;
}

Timeline FactBook::build(const std::string& name) {
  const auto in = [&](const char* fact_name) { return fact(fact_name).as_input(); };
  if (name.starts_with("phase:")) return phase_fact(phase(name.substr(6)));
  if (name == "handling") return phase_fact(phase("handling"));
  if (name == "boost") return timeline_and(clamped(), timeline_not(in("source.off")));
  if (name == "held_by_line_alone") {
    return timeline_and(timeline_and(in("rigging"), in("loaded")), timeline_not(in("tied")));
  }
  if (name == "working") {
    return timeline_or(timeline_or(in("line.pulling"), in("boost")), in("deck.moving"));
  }
  if (name == "rolling") return rolling_fact();
  if (name == "line.pulling") return pulling_fact();
  if (name == "line.taut") return taut_fact();
  if (name == "line.holding" && !said_.contains(name)) return holding_fact();
  if (is_boost_reading(name)) return boost_reading_fact(name);
  if (name == "deck.moving" && !said_.contains(name)) return deck_moving_fact();
  if (name == "truck.moving" && !said_.contains(name)) return truck_moving_fact();
  if (name.starts_with("clamp.") || name.starts_with("lid."))
    return contact_fact(name, word_fact(name));
  return word_fact(name);
}

// Both clamps on at the terminals. Where neither a word nor a jaw says anything of either lead,
// volts at the clamps do; where nothing reads those either, lost words may have been said.
Timeline FactBook::clamped() {
  bool named = false;
  for (const char* lead : {"clamp.positive", "clamp.negative", "lid.positive", "lid.negative"})
    named = named || said_.contains(lead);
  for (const char* jaw : {"clamp.pos.contact", "clamp.neg.contact"})
    named = named || quantities_.series(jaw, 0, 0).named;
  if (!named && fact("clamp.connected").named()) return fact("clamp.connected").as_input();
  return timeline_and(fact("clamp.positive").as_input(), fact("clamp.negative").as_input());
}

Timeline FactBook::boost_reading_fact(const std::string& name) {
  const auto healthy = [&](const char* channel) -> const Series& {
    static const Series kNone;
    const Series& series = quantities_.series(channel, 0, 0);
    const bool usable =
        !series.pieces.empty() && quantities_.calibrated(channel, series.pieces.front().from_us);
    return usable ? series : kNone;
  };
  return boost_reading(name, healthy("clamp.volts"), healthy("clamp.amps"), lines_, &begun_[name]);
}

Timeline FactBook::holding_fact() {
  const Series& pull = quantities_.series("line.pull", 0, 0);
  const Series& out = quantities_.series("line.out", 0, 0);
  if (pull.pieces.empty() || out.pieces.empty()) return word_fact("line.holding");
  return hold_timeline(pull, out, lines_);
}

// Contact sense of a jaw, where fitted and in date, replaces the word from its first sample on.
// The jaw does not know where it bites: the last word about the lead tells the point.
Timeline FactBook::contact_fact(const std::string& name, const Timeline& word) {
  const bool positive = name.ends_with("positive");
  const std::string channel = positive ? "clamp.pos.contact" : "clamp.neg.contact";
  const Series& contact = quantities_.series(channel, 0, 0);
  if (contact.pieces.empty() || !quantities_.calibrated(channel, contact.pieces.front().from_us))
    return word;
  std::vector<std::pair<int64_t, bool>>
      lid_words;  // When the lead was said to go on, and whether on the lid lead.
  for (const int index : lines_.spoken()) {
    const JobLine& line = lines_.line(index);
    const v1::Clamp& clamp = line.observation->clamp();
    if (clamp.at() != v1::Clamp::VEHICLE || !clamp.on() ||
        (clamp.lead() == v1::Clamp::POSITIVE) != positive)
      continue;
    lid_words.push_back({line.stamp.time_us, clamp.point() == v1::Clamp::LID_LEAD});
  }
  return contact_timeline(contact, word, lines_, lid_words, name.starts_with("lid."));
}

Timeline FactBook::pull_fact(const std::string& name, int64_t on_n, int64_t on_for_us) {
  return pull_timeline(quantities_.series("line.pull", 0, 0), lines_, on_n, on_for_us,
                       &begun_[name]);
}

// The pull tells that the line is taut until somebody first says how it is.
Timeline FactBook::taut_fact() {
  const Timeline words = word_fact("line.taut");
  const Series& pull = quantities_.series("line.pull", 0, 0);
  if (pull.pieces.empty()) return words;
  const auto said = said_.find("line.taut");
  const int64_t first_word_us = said == said_.end() ? kForever : said->second.front().stamp.time_us;
  Timeline taut(words.initial());
  const Timeline measured = pull_fact("line.taut", 500, 2'000'000);
  for (const Change& change : measured.changes()) {
    if (change.at.time_us < first_word_us) taut.add(change);
  }
  for (const Change& change : words.changes()) {
    if (change.at.time_us >= first_word_us) taut.add(change);
  }
  taut.normalize();
  return taut;
}

Timeline FactBook::pulling_fact() { return pull_fact("line.pulling", 300, 500'000); }

Timeline FactBook::deck_moving_fact() {
  Timeline words = word_fact("deck.moving");
  const Series& tilt = quantities_.series("deck.tilt", 0, 0);
  return tilt.pieces.size() < 2 ? words : tilt_moving_timeline(tilt, lines_);
}

Timeline FactBook::truck_moving_fact() {
  const Series& speed = quantities_.series("truck.speed", 0, 0);
  return speed.pieces.empty() ? word_fact("truck.moving")
                              : moving_timeline(speed, lines_, &begun_["truck.moving"]);
}

Timeline FactBook::motion_fact() {
  const Timeline still = timeline_and(
      fact("line.pulling").as_input(),
      timeline_not(timeline_or(fact("deck.moving").as_input(), fact("truck.moving").as_input())));
  const Series& out = quantities_.series("line.out", 0, 0);
  if (!out.named && has_tag_fixes(lines_)) return tag_motion_timeline(still, lines_);
  return motion_timeline(still, out);
}

Timeline FactBook::rolling_fact() {
  const auto in = [&](const char* fact_name) { return fact(fact_name).as_input(); };
  const Timeline opened = timeline_or(in("mode.rolling"), motion_fact());
  const Timeline other =
      timeline_or(timeline_or(in("deck.moving"), in("truck.moving")), in("wheels.on_skates"));
  return timeline_and(opened, timeline_not(other));
}

Timeline FactBook::phase_fact(const std::vector<PhaseSpan>& spans) const {
  Timeline timeline(Tri::kFalse);
  for (const PhaseSpan& span : spans) {
    timeline.add({span.open, Tri::kTrue, Reason::kNone});
    if (span.closed) timeline.add({span.close, Tri::kFalse, Reason::kNone});
  }
  timeline.normalize();
  return timeline;
}

// Edges of a fact. After a gap the edge may lie anywhere in it, so it is dated back that far.
// Since when a fact that nobody had named may have been so: the first line lost before `until`.
int64_t FactBook::first_gap_us(const std::string& name, int64_t until_us) {
  int64_t first_us = until_us;
  const std::set<std::string> by = sources(name + ".on");
  for (const SourceGap& gap : lines_.gaps()) {
    if (!by.contains(gap.source) || !gap.channel.empty()) continue;
    first_us = std::min(first_us, std::max(gap.from_us, lines_.start_us()) + 1);
  }
  return first_us;
}

std::vector<Stamp> FactBook::fact_events(const FactEvent& event) {
  const Timeline& timeline = fact(event.fact);
  std::vector<Stamp> found;
  Tri last_known = timeline.initial();
  Tri before = timeline.initial();
  int64_t unknown_from = kBeginning;
  for (const Change& change : timeline.changes()) {
    if (change.value == Tri::kUnknown) {
      if (before != Tri::kUnknown || unknown_from == kBeginning) unknown_from = change.at.time_us;
    } else {
      const bool edge = event.on ? change.value == Tri::kTrue && last_known != Tri::kTrue
                                 : change.value == Tri::kFalse && last_known == Tri::kTrue;
      if (edge) {
        Stamp stamp = change.at;
        if (before == Tri::kUnknown) {
          if (unknown_from == kBeginning)
            unknown_from = first_gap_us(event.fact, change.at.time_us);
          stamp.early_us += change.at.time_us - unknown_from;
        }
        found.push_back(stamp);
      }
      last_known = change.value;
    }
    before = change.value;
  }
  return found;
}

std::vector<Stamp> FactBook::first_touch() {
  std::vector<Stamp> touches;
  const auto take = [&](const std::string& event) {
    const auto& stamps = events(event);
    if (!stamps.empty()) touches.push_back(stamps.front());
  };
  for (const char* fact_name :
       {"clamp.positive", "clamp.negative", "lid.positive", "lid.negative", "rigging"}) {
    take(std::string(fact_name) + ".on");
  }
  for (const auto& [name, said] : said_) {
    if (name.starts_with("cover.off:")) take(name + ".on");
  }
  for (const char* event : {"door.opened", "connector.tether_drawn", "connector.released",
                            "connector.out", "connector.in"}) {
    take(event);
  }
  std::stable_sort(touches.begin(), touches.end(),
                   [](const Stamp& a, const Stamp& b) { return a.time_us < b.time_us; });
  if (touches.empty()) return touches;
  // By clocks of their own others may have been first.
  Stamp& first = touches.front();
  std::optional<int64_t> early_us = first.early_us;
  for (const Stamp& other : touches) {
    if (other.frame == first.frame) continue;
    const auto lead = time_from_to(other, first);
    early_us = lead && early_us ? std::optional(std::max(*early_us, lead->hi_us)) : std::nullopt;
  }
  first.early_us = early_us.value_or(0);
  if (!early_us) {
    first.frame = -1;
    first.clock_u_us = -1;
  }
  touches.resize(1);
  return touches;
}

const std::vector<Stamp>& FactBook::events(const std::string& name) {
  const auto found = events_.find(name);
  if (found != events_.end()) return found->second;
  std::vector<Stamp> stamps;
  if (name == "first_touch") {
    stamps = first_touch();
  } else if (const auto edge = fact_event(name)) {
    stamps = fact_events(*edge);
  } else if (const auto momentary = momentary_.find(name); momentary != momentary_.end()) {
    stamps = momentary->second;
  }
  return events_.emplace(name, std::move(stamps)).first->second;
}

std::vector<HiddenSpan> FactBook::hidden(const std::string& name) {
  if (const auto edge = fact_event(name)) {
    const Timeline& timeline = fact(edge->fact);
    if (!timeline.ever_known() && timeline.initial() == Tri::kUnknown)
      return {{lines_.start_us(), lines_.end_us(), Reason::kNoData}};
  }
  return hidden_in_gaps(name);
}

std::vector<HiddenSpan> FactBook::hidden_in_gaps(const std::string& name) {
  std::vector<HiddenSpan> spans;
  if (name == "opened") return spans;  // A job opens once, and that is seen.
  if (const auto edge = fact_event(name)) {
    const Timeline& timeline = fact(edge->fact);
    // Before anybody named the fact it is unknown anyway, so a gap there is no change of it.
    if (timeline.named() && timeline.initial() == Tri::kUnknown) {
      const int64_t named_us = timeline.changes().front().at.time_us;
      const std::set<std::string> by = sources(name);
      for (const SourceGap& gap : lines_.gaps()) {
        if (!by.contains(gap.source) || !gap.channel.empty()) continue;
        const int64_t from_us = std::max(gap.from_us, lines_.start_us()) + 1;
        if (from_us >= named_us) continue;
        spans.push_back({from_us, std::min(gap.to_us, named_us), gap.reason});
        if (!edge->on && timeline.changes().front().value == Tri::kFalse)
          spans.push_back({named_us, named_us + 1, gap.reason});
      }
    }
    Tri last_known = timeline.initial();
    for (size_t i = 0; i < timeline.changes().size(); ++i) {
      const Change& change = timeline.changes()[i];
      if (change.value != Tri::kUnknown) {
        last_known = change.value;
        continue;
      }
      int64_t to_us = lines_.end_us();
      if (i + 1 < timeline.changes().size()) {
        const Change& next = timeline.changes()[i + 1];
        to_us = next.at.time_us;
        // Otherwise meanwhile, it may have become so again just when it is said to be: no sure
        // edge.
        const bool so = next.value == (edge->on ? Tri::kTrue : Tri::kFalse);
        if (so && (last_known == Tri::kTrue) == edge->on) ++to_us;
      }
      spans.push_back({change.at.time_us, to_us,
                       change.why_unknown == Reason::kNone ? Reason::kNoData : change.why_unknown});
    }
    return spans;
  }
  const std::set<std::string> by = sources(name);
  for (const SourceGap& gap : lines_.gaps()) {
    if (!by.contains(gap.source) || !gap.channel.empty()) continue;
    spans.push_back({std::max(gap.from_us, lines_.start_us()) + 1,
                     std::min(gap.to_us, lines_.end_us()), gap.reason});
  }
  return spans;
}

std::set<std::string> FactBook::sources(const std::string& name) {
  const auto edge = fact_event(name);
  const std::string base = edge ? edge->fact : name;
  std::set<std::string> by;
  for (const auto& [name_said, sources] : said_by_) {
    if (akin(base, name_said)) by.insert(sources.begin(), sources.end());
  }
  const auto measured = [&](const char* quantity) {
    const auto& more = quantities_.sources(quantity);
    by.insert(more.begin(), more.end());
  };
  if (is_boost_reading(base) || base == "boost") measured("clamp.volts");
  if (base == "clamp.shorted" || base == "clamp.surge") measured("clamp.amps");
  if (is_boost_reading(base)) return by;  // No word says these.
  if (base.starts_with("clamp.") || base.starts_with("lid.") || base == "boost") {
    measured("clamp.pos.contact");
    measured("clamp.neg.contact");
  }
  if (base.starts_with("line.") || base == "rolling") measured("line.pull");
  if (base == "line.holding" || base == "rolling") measured("line.out");
  if (base == "truck.moving") measured("truck.speed");
  by.insert(std::string(kOperator));
  for (const SourceGap& gap : lines_.gaps()) {  // Any person may have said it in a lost line.
    if (is_person(gap.source)) by.insert(gap.source);
  }
  return by;
}

std::vector<Contradiction> FactBook::contradictions() {
  std::vector<Contradiction> found;
  for (const char* name : {"clamp.positive", "clamp.negative"}) {
    const bool positive = std::string_view(name).ends_with("positive");
    const std::string channel = positive ? "clamp.pos.contact" : "clamp.neg.contact";
    const Series& contact = quantities_.series(channel, 0, 0);
    const auto said = said_.find(name);
    if (said == said_.end()) continue;
    for (const Said& one : said->second) {
      if (one.value == Tri::kUnknown || !quantities_.calibrated(channel, one.stamp.time_us))
        continue;
      if (const auto line = contradicting_contact(contact, one.stamp, one.value == Tri::kTrue)) {
        found.push_back({name, one.stamp.line, *line});
      }
    }
  }
  return found;
}

}  // namespace fairlead::judge
