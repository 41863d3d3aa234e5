#include "reports/claim/facts.h"

#include <algorithm>
#include <map>
#include <tuple>

#include "daemon/base/time_text.h"
#include "daemon/judge/undone.h"
#include "reports/text.h"

namespace fairlead::reports {
namespace {

using Kind = v1::Observation::KindCase;

constexpr double kMoving_mps = 0.5 / 3.6;
constexpr double kSpeedSd_mps = 0.2;  // Where the receiver gives none, by the record's vocabulary.
constexpr double kOneSided95 = 1.645;

bool is_mark(const v1::Observation& line) {
  return line.kind_case() != Kind::kSample && line.kind_case() != Kind::kFix &&
         line.kind_case() != Kind::kAlive && line.kind_case() != Kind::KIND_NOT_SET;
}

std::vector<TimedLine> marks_in_order(const JobRecord& record) {
  std::vector<TimedLine> marks;
  for (const auto& line : record.lines) {
    const auto time = parse_time_us(line.time());
    if (!time || !is_mark(line)) continue;
    marks.push_back({*time, &line, false});
  }
  std::stable_sort(marks.begin(), marks.end(), [](const TimedLine& a, const TimedLine& b) {
    return std::tuple(a.time_us, a.line->source(), a.line->seq()) <
           std::tuple(b.time_us, b.line->source(), b.line->seq());
  });
  std::vector<const v1::Observation*> lines;
  for (const TimedLine& mark : marks) lines.push_back(mark.line);
  const auto undone = judge::undone_lines(lines);
  for (TimedLine& mark : marks)
    mark.taken_back = undone.contains({mark.line->source(), mark.line->seq()});
  return marks;
}

bool touches(const v1::Observation& line, bool contacts_measured) {
  switch (line.kind_case()) {
    case Kind::kClamp:
      return !contacts_measured && line.clamp().on() && line.clamp().at() == v1::Clamp::VEHICLE;
    case Kind::kCover:
      return line.cover().off();
    case Kind::kRigging:
      return line.rigging().on();
    case Kind::kDoor:
    case Kind::kConnector:
      return true;
    default:
      return false;
  }
}

void set_once(std::optional<int64_t>& field, int64_t time) {
  if (!field) field = time;
}

const char* limit_word(int limit) {
  return limit == v1::Photo::DARK ? "dark" : limit == v1::Photo::WET ? "wet" : "dirty";
}

void take_picture(const TimedLine& mark, JobFacts& facts) {
  PhotoFact photo;
  photo.time_us = mark.time_us;
  photo.source = mark.line->source();
  photo.seq = mark.line->seq();
  if (mark.line->has_film()) {
    photo.film = true;
    photo.view = "film";
    photo.sha256 = mark.line->film().sha256();
    photo.media_type = mark.line->film().media_type();
    photo.when = mark.line->film().when();
  } else {
    const auto& said = mark.line->photo();
    photo.view = said.view();
    photo.sha256 = said.sha256();
    photo.media_type = said.media_type();
    photo.when = said.when();
    for (const int limit : said.limits()) photo.limits.emplace_back(limit_word(limit));
  }
  facts.photos.push_back(std::move(photo));
}

void take_custody(const TimedLine& mark, JobFacts& facts) {
  switch (mark.line->custody().event()) {
    case v1::Custody::TAKEN:
      return set_once(facts.taken, mark.time_us);
    case v1::Custody::GIVEN:
      facts.released_how = "given";
      break;
    case v1::Custody::REFUSED:
      facts.released_how = "refused";
      break;
    case v1::Custody::LEFT:
      facts.released_how = "left";
      break;
    case v1::Custody::STORED:
      facts.released_how = "stored";
      break;
    default:
      return;
  }
  facts.released = mark.time_us;
}

void take_wheels(const TimedLine& mark, JobFacts& facts) {
  const auto& wheels = mark.line->wheels();
  if (wheels.which() != "ALL") return;
  if (wheels.on() == v1::Wheels::DECK) set_once(facts.loaded, mark.time_us);
  if (wheels.on() == v1::Wheels::GROUND && facts.loaded) facts.unloaded = mark.time_us;
}

void take_mark(const TimedLine& mark, JobFacts& facts) {
  const v1::Observation& line = *mark.line;
  if (touches(line, facts.contacts_measured)) set_once(facts.first_touch, mark.time_us);
  switch (line.kind_case()) {
    case Kind::kOpened:
      set_once(facts.opened, mark.time_us);
      facts.vehicle = line.opened().vehicle();
      facts.truck = line.opened().truck();
      facts.operator_card = line.opened().operator_();
      facts.procedures.assign(line.opened().procedures().begin(), line.opened().procedures().end());
      if (const auto promised = parse_time_us(line.opened().promised())) facts.promised = *promised;
      return;
    case Kind::kClosed:
    case Kind::kAbandoned:
      facts.closed = mark.time_us;
      return;
    case Kind::kReopened:
      facts.closed.reset();
      return;
    case Kind::kArrived:
      return set_once(facts.arrived, mark.time_us);
    case Kind::kFound:
      return set_once(facts.found, mark.time_us);
    case Kind::kWheels:
      return take_wheels(mark, facts);
    case Kind::kCustody:
      return take_custody(mark, facts);
    case Kind::kPhoto:
    case Kind::kFilm:
      return take_picture(mark, facts);
    case Kind::kCondition: {
      const auto& c = line.condition();
      facts.conditions.push_back(
          {c.place(), c.kind(), c.words(), c.size_mm(), mark.time_us, c.when()});
      return;
    }
    default:
      return;
  }
}

// A gap reaches from the channel's last line before it to the first one after it.
void find_gaps(const JobRecord& record, JobFacts& facts) {
  for (const auto& mark : facts.lines) {
    if (!mark.line->has_gap()) continue;
    const auto& said = mark.line->gap();
    GapFact gap{said.channel(), said.cause(), std::nullopt, facts.begin_us, facts.end_us};
    if (said.has_lost()) gap.lost = said.lost();
    for (const auto& line : record.lines) {
      const bool same = line.source() == said.channel() ||
                        (line.has_sample() && line.sample().signal() == said.channel());
      const auto time = parse_time_us(line.time());
      if (!same || !time || line.has_gap() || line.has_alive()) continue;
      if (*time <= mark.time_us) gap.from_us = std::max(gap.from_us, *time);
      if (*time > mark.time_us) gap.to_us = std::min(gap.to_us, *time);
    }
    gap.to_us = std::max(gap.to_us, mark.time_us);
    facts.gaps.push_back(std::move(gap));
  }
}

class StretchFinder {
 public:
  /// Fills `found`; what is still on at `end_us` ends there.
  StretchFinder(std::vector<Stretch>& found, int64_t end_us) : found_(found), end_us_(end_us) {}
  void set(const char* words, bool on, int64_t time) {
    const auto open = open_.find(words);
    if (on && open == open_.end()) open_[words] = time;
    if (!on && open != open_.end()) close(open, time);
  }
  void finish() {
    while (!open_.empty()) close(open_.begin(), end_us_);
    std::sort(found_.begin(), found_.end(), [](const Stretch& a, const Stretch& b) {
      return std::tuple(a.from_us, a.words) < std::tuple(b.from_us, b.words);
    });
  }

 private:
  using Open = std::map<std::string, int64_t>;
  void close(Open::iterator open, int64_t time) {
    found_.push_back({open->first, open->second, time});
    open_.erase(open);
  }
  std::vector<Stretch>& found_;
  const int64_t end_us_;
  Open open_;
};

struct Contact {
  int64_t time_us;
  bool negative, touching;
};

// Readings of the jaws' contacts in time order; those marked as not good say nothing.
std::vector<Contact> contacts_of(const JobRecord& record) {
  std::vector<Contact> contacts;
  for (const auto& line : record.lines) {
    if (!line.has_sample() || (line.has_quality() && line.quality() != v1::Quality::GOOD)) continue;
    const bool negative = line.sample().signal() == "clamp.neg.contact";
    if (!negative && line.sample().signal() != "clamp.pos.contact") continue;
    if (const auto time = parse_time_us(line.time())) {
      contacts.push_back({*time, negative, line.sample().value() > 0.5});
    }
  }
  std::stable_sort(contacts.begin(), contacts.end(),
                   [](const Contact& a, const Contact& b) { return a.time_us < b.time_us; });
  return contacts;
}

void find_stretches(const std::vector<Contact>& contacts, JobFacts& facts) {
  StretchFinder finder(facts.stretches, facts.end_us);
  bool jaws[2] = {false, false};
  for (const Contact& contact : contacts) {
    jaws[contact.negative] = contact.touching;
    finder.set("both clamps on", jaws[0] && jaws[1], contact.time_us);
  }
  bool clamps[2] = {false, false};
  for (const auto& mark : facts.lines) {
    if (mark.taken_back) continue;
    const v1::Observation& line = *mark.line;
    if (line.has_vehicle_mode()) {
      finder.set("free-rolling", line.vehicle_mode().mode() == v1::VehicleMode::ROLLING,
                 mark.time_us);
    } else if (line.has_truck_motion()) {
      finder.set("truck moving", line.truck_motion().moving(), mark.time_us);
    } else if (line.has_deck() && line.deck().has_moving()) {
      finder.set("deck moving", line.deck().moving(), mark.time_us);
    } else if (contacts.empty() && line.has_clamp() && line.clamp().at() == v1::Clamp::VEHICLE) {
      clamps[line.clamp().lead() == v1::Clamp::NEGATIVE] = line.clamp().on();
      finder.set("both clamps on", clamps[0] && clamps[1], mark.time_us);
    }
  }
  finder.finish();
}

void find_aboard(JobFacts& facts) {
  StretchFinder finder(facts.aboard, facts.end_us);
  for (const auto& mark : facts.lines) {
    if (mark.taken_back || !mark.line->has_wheels() || mark.line->wheels().which() != "ALL")
      continue;
    const auto on = mark.line->wheels().on();
    finder.set("aboard", on == v1::Wheels::DECK || on == v1::Wheels::LIFT, mark.time_us);
  }
  finder.finish();
}

// A fix of the truck's own receiver that leaves no doubt that it moves.
bool surely_moves(const v1::Observation& line) {
  if (!line.has_fix() || line.source() != "gps.truck" || line.fix().mode() < 2) return false;
  if (line.has_quality() && line.quality() != v1::Quality::GOOD) return false;
  const double sd = line.fix().has_speed_sd_mps() ? line.fix().speed_sd_mps() : kSpeedSd_mps;
  return line.fix().speed_mps() - kOneSided95 * sd > kMoving_mps;
}

void find_departures(const JobRecord& record, JobFacts& facts) {
  const auto holds = [](const Stretch& stretch, int64_t time_us) {
    return stretch.from_us <= time_us && time_us < stretch.to_us;
  };
  bool said = false;
  for (const auto& mark : facts.lines) {
    if (mark.taken_back || !mark.line->has_truck_motion()) continue;
    said = true;
    if (mark.line->truck_motion().moving() &&
        std::ranges::any_of(facts.aboard, [&](const auto& s) { return holds(s, mark.time_us); }))
      facts.departures.push_back(mark.time_us);
  }
  std::vector<std::optional<int64_t>> first(said ? 0 : facts.aboard.size());
  for (const auto& line : record.lines) {
    if (first.empty() || !surely_moves(line)) continue;
    const auto time = parse_time_us(line.time());
    for (size_t i = 0; time && i < first.size(); ++i) {
      if (holds(facts.aboard[i], *time)) first[i] = std::min(first[i].value_or(*time), *time);
    }
  }
  for (const auto& moved : first) {
    if (moved) facts.departures.push_back(*moved);
  }
  if (!facts.departures.empty()) facts.travel = facts.departures.front();
}

// Pictures handed in days later and what the truck recorded of other work are no part of the
// job's own span.
void bound_by_job(JobFacts& facts) {
  if (facts.opened) facts.begin_us = *facts.opened;
  if (facts.closed) facts.end_us = std::max(*facts.closed, facts.released.value_or(*facts.closed));
  facts.end_us = std::max(facts.end_us, facts.begin_us);
}

}  // namespace

JobFacts gather_facts(const JobRecord& record) {
  JobFacts facts;
  facts.lines = marks_in_order(record);
  bool first = true;
  for (const auto& line : record.lines) {
    const auto time = parse_time_us(line.time());
    if (!time) continue;
    facts.begin_us = first ? *time : std::min(facts.begin_us, *time);
    facts.end_us = first ? *time : std::max(facts.end_us, *time);
    first = false;
  }
  const auto contacts = contacts_of(record);
  facts.contacts_measured = !contacts.empty();
  for (const auto& mark : facts.lines) {
    if (!mark.taken_back) take_mark(mark, facts);
  }
  for (const Contact& contact : contacts) {
    if (!contact.touching) continue;
    facts.first_touch = std::min(facts.first_touch.value_or(contact.time_us), contact.time_us);
    break;
  }
  bound_by_job(facts);
  find_gaps(record, facts);
  find_stretches(contacts, facts);
  find_aboard(facts);
  find_departures(record, facts);
  return facts;
}

std::string card_name(const JobRecord& record, const std::string& id) {
  const auto found = record.cards.find(id);
  if (found != record.cards.end()) return shown(found->second);
  return (id.starts_with("card") ? "" : "card ") + shown(id);
}

}  // namespace fairlead::reports
