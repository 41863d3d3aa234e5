#include "daemon/judge/rigging_state.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "daemon/judge/line_facts.h"
#include "daemon/judge/whole_math.h"

namespace fairlead::judge {
namespace {

// 1 kg of rating held against a force: 9.80665 N (standard gravity, SI Brochure 9th ed.). Whole
// newtons, outward.
Interval newtons(int64_t grams) {
  constexpr Wide kPerN = 100'000'000;
  const Wide product = static_cast<Wide>(grams) * 980'665;
  return {floor_div(product, kPerN), floor_div(product * 2 + kPerN, kPerN * 2),
          ceil_div(product, kPerN)};
}

struct PieceRating {
  int64_t lo_g = 0, best_g = 0;
  std::optional<int64_t> hi_g = 0;
  int count = 1;       // 0 when the piece never counts.
  bool surely = true;  // False: it may not count.
  std::string remark;
};

PieceRating unread(const std::string& id) {
  return {.hi_g = std::nullopt,
          .remark = fmt::format("gear '{}' is in no register file, so its rating is unread", id)};
}

PieceRating rating_of(const GearItem* gear, const std::string& id, int64_t time_us) {
  if (gear == nullptr) return unread(id);
  const physics::DefectFinding counting = gear->counting(time_us);
  if (counting.counts == physics::Verdict::kDeviated) {
    return {.count = 0,
            .surely = true,
            .remark = fmt::format("gear '{}' does not count: {}", id, counting.why)};
  }
  PieceRating rating{.lo_g = gear->wll.lo_g.value_or(0),
                     .best_g = gear->wll.lo_g.value_or(0),
                     .hi_g = gear->wll.hi_g,
                     .remark = ""};
  if (gear->wll.from_table)
    rating.remark = fmt::format("'{}' is unmarked: 49 CFR 393.108 default", id);
  if (!gear->wll.lo_g) rating.remark = fmt::format("the rating of '{}' is unread", id);
  if (counting.counts == physics::Verdict::kUnproven) {
    rating.lo_g = rating.best_g = 0;
    rating.surely = false;
    rating.remark = fmt::format("gear '{}' may not count: {}", id, counting.why);
  }
  return rating;
}

void limit_to(PieceRating& piece, int64_t lo_g, std::optional<int64_t> hi_g) {
  piece.lo_g = std::min(piece.lo_g, lo_g);
  piece.best_g = std::min(piece.best_g, lo_g);
  if (hi_g) piece.hi_g = piece.hi_g ? std::min(*piece.hi_g, *hi_g) : *hi_g;
}

// min(strap, anchor) x credit.
PieceRating tiedown_rating(const v1::Tiedown& tiedown, const RegisterBook& book, int64_t time_us) {
  const GearItem* gear = book.gear(tiedown.gear());
  PieceRating piece = rating_of(gear, tiedown.gear(), time_us);
  if (tiedown.has_anchor_gear()) {
    const GearItem* anchor = book.gear(tiedown.anchor_gear());
    if (anchor != nullptr && anchor->wll.lo_g) {
      const PieceRating held = rating_of(anchor, tiedown.anchor_gear(), time_us);
      limit_to(piece, held.lo_g, held.hi_g);
      // What hangs on an anchor that does not count does not count either.
      piece.count = std::min(piece.count, held.count);
      piece.surely = piece.surely && held.surely;
      if (held.count == 0 || !held.surely) piece.remark = held.remark;
    } else {
      limit_to(piece, 0, std::nullopt);
      piece.remark = fmt::format("anchor '{}' has no rating on file", tiedown.anchor_gear());
    }
  } else if (gear != nullptr && gear->anchor_wll_g) {
    limit_to(piece, *gear->anchor_wll_g, gear->anchor_wll_up_g);
  } else if (piece.remark.empty()) {
    piece.remark =
        fmt::format("no file names the anchor of '{}'; it does not limit", tiedown.gear());
  }
  if (tiedown.path() == v1::Tiedown::ACROSS) return piece;
  piece.lo_g /= 2;
  piece.best_g /= 2;
  if (piece.hi_g) piece.hi_g = (*piece.hi_g + 1) / 2;
  return piece;
}

// `hidden`: why it may have come off meanwhile.
void add_piece(Strength& sum, const PieceRating& piece, int line,
               const std::set<Reason>& hidden = {}) {
  const bool surely = hidden.empty();
  // A gram is what rounding makes of pounds; more is a rating that is not known.
  if (!piece.hi_g || *piece.hi_g - piece.lo_g > 1) sum.doubts.insert(Reason::kNoData);
  if (!piece.surely) sum.count_doubts.insert(Reason::kNoData);
  sum.doubts.insert(hidden.begin(), hidden.end());
  sum.count_doubts.insert(hidden.begin(), hidden.end());
  if (surely) sum.lo_g += piece.lo_g;
  if (surely && piece.surely) sum.count_lo += piece.count;
  sum.best_g += piece.best_g;
  sum.hi_g = sum.hi_g && piece.hi_g ? std::optional(*sum.hi_g + *piece.hi_g) : std::nullopt;
  if (sum.count_hi) *sum.count_hi += piece.count;
  sum.count_best += piece.surely ? piece.count : 0;
  sum.lines.push_back(line);
  if (!piece.remark.empty()) sum.remarks.push_back(piece.remark);
}

// Gaps of sources that could have said that a tiedown went on or came off.
std::vector<const SourceGap*> tiedown_gaps(const JobLines& lines) {
  std::set<std::string> speakers;
  for (const int index : lines.spoken()) {
    const v1::Observation& said = *lines.line(index).observation;
    if (said.has_tiedown()) speakers.insert(said.source());
  }
  std::vector<const SourceGap*> gaps;
  for (const SourceGap& gap : lines.gaps()) {
    const bool may_speak = is_person(gap.source) || speakers.contains(gap.source);
    if (gap.channel.empty() && may_speak) gaps.push_back(&gap);
  }
  return gaps;
}

std::vector<std::string> gear_in(const v1::Observation& line, bool tiedowns) {
  if (tiedowns && line.has_tiedown()) return {line.tiedown().gear(), line.tiedown().anchor_gear()};
  if (!tiedowns && line.has_rigging())
    return {line.rigging().gear().begin(), line.rigging().gear().end()};
  return {};
}

// Dates of tiedowns and their anchors, or of rigging, that fall into the job: what was in date when
// it went on may run out on the road.
std::set<int64_t> gear_dates(const JobLines& lines, const RegisterBook& book, bool tiedowns) {
  int64_t last_us = lines.start_us();
  if (!lines.lines().empty()) last_us = std::max(last_us, lines.lines().back().stamp.time_us);
  std::set<int64_t> dates;
  for (const int index : lines.spoken()) {
    const JobLine& line = lines.line(index);
    for (const std::string& id : gear_in(*line.observation, tiedowns)) {
      const GearItem* gear = book.gear(id);
      if (gear == nullptr) continue;
      for (const int64_t date_us : gear->turning_points()) {
        if (date_us > line.stamp.time_us && date_us <= last_us) dates.insert(date_us);
      }
    }
  }
  return dates;
}

// After a gap more pieces may hold than the record names: as many as lines are missing.
void add_unseen(Strength& sum, const std::vector<const SourceGap*>& gaps) {
  for (const SourceGap* gap : gaps) {
    if (gap->from_us >= sum.from_us) continue;
    sum.hi_g = std::nullopt;
    sum.doubts.insert(gap->reason);
    sum.count_doubts.insert(gap->reason);
    sum.count_hi =
        gap->lost && sum.count_hi ? std::optional(*sum.count_hi + *gap->lost) : std::nullopt;
  }
}

}  // namespace

std::string piece_of(const v1::Tiedown& tiedown) {
  return tiedown.gear() +
         (tiedown.has_wheel() ? "|wheel:" + tiedown.wheel() : "|point:" + tiedown.point());
}

RiggingState::RiggingState(const JobLines& lines, const RegisterBook& book)
    : lines_(lines), book_(book) {
  follow();
}

void RiggingState::follow() {
  tiedowns_.clear();
  rigging_.clear();
  uses_.clear();
  read_tiedowns();
  read_rigging();
}

void RiggingState::read_tiedowns() {
  const std::vector<const SourceGap*> gaps = tiedown_gaps(lines_);
  // Where a step of the sum begins: a tiedown line, a date at which a piece stops to count, or a
  // gap after which pieces are unsure.
  std::vector<std::pair<int64_t, int>> steps;
  for (const int index : lines_.spoken()) {
    const JobLine& line = lines_.line(index);
    if (line.observation->has_tiedown()) steps.push_back({line.stamp.time_us, index});
  }
  for (const int64_t date_us : gear_dates(lines_, book_, true)) steps.push_back({date_us, kNoLine});
  for (const SourceGap* gap : gaps)
    steps.push_back({std::max(gap->from_us, lines_.start_us()) + 1, kNoLine});
  std::stable_sort(steps.begin(), steps.end(),
                   [](const auto& a, const auto& b) { return a.first < b.first; });
  std::map<std::string, int> on;  // Pieces that hold, with their lines.
  tiedowns_.push_back({.from_us = kBeginning, .lines = {}, .remarks = {}});
  for (const auto& [time_us, index] : steps) {
    if (index != kNoLine) {
      const v1::Tiedown& tiedown = lines_.line(index).observation->tiedown();
      if (tiedown.on())
        on[piece_of(tiedown)] = index;
      else
        on.erase(piece_of(tiedown));
    }
    Strength sum{.from_us = time_us, .lines = {}, .remarks = {}};
    for (const auto& [piece, line] : on) {
      const JobLine& attached = lines_.line(line);
      std::set<Reason> hidden;
      for (const SourceGap* gap : gaps) {
        const bool may_speak =
            is_person(gap->source) || gap->source == attached.observation->source();
        if (may_speak && gap->to_us > attached.stamp.time_us && gap->from_us < time_us)
          hidden.insert(gap->reason);
      }
      add_piece(sum, tiedown_rating(attached.observation->tiedown(), book_, time_us), line, hidden);
    }
    add_unseen(sum, gaps);
    tiedowns_.back().to_us = time_us;
    tiedowns_.push_back(std::move(sum));
  }
}

void RiggingState::read_rigging() {
  std::map<std::string, int> on;
  rigging_.push_back({.from_us = kBeginning, .lines = {}, .remarks = {}});
  std::vector<std::pair<int64_t, int>> steps;
  for (const int index : lines_.spoken()) {
    const JobLine& line = lines_.line(index);
    if (line.observation->has_rigging()) steps.push_back({line.stamp.time_us, index});
  }
  for (const int64_t date_us : gear_dates(lines_, book_, false))
    steps.push_back({date_us, kNoLine});
  std::stable_sort(steps.begin(), steps.end(),
                   [](const auto& a, const auto& b) { return a.first < b.first; });
  for (const auto& [time_us, step_line] : steps) {
    if (step_line != kNoLine) {
      const v1::Rigging& rigging = lines_.line(step_line).observation->rigging();
      for (RiggingUse& use : uses_) {
        if (use.to_us == kForever && use.rigging->point() == rigging.point()) use.to_us = time_us;
      }
      if (rigging.on()) {
        on[rigging.point()] = step_line;
        uses_.push_back({time_us, kForever, &rigging, step_line});
      } else {
        on.erase(rigging.point());
      }
    }
    Strength sum{.from_us = time_us, .lines = {}, .remarks = {}};
    for (const auto& [point, index] : on) {
      PieceRating weakest{.lo_g = kForever, .best_g = kForever, .hi_g = std::nullopt, .remark = ""};
      for (const std::string& id : lines_.line(index).observation->rigging().gear()) {
        const PieceRating gear = rating_of(book_.gear(id), id, time_us);
        limit_to(weakest, gear.lo_g, gear.hi_g);
        weakest.surely = weakest.surely && gear.surely;
        weakest.count = std::min(weakest.count, gear.count);
        if (!gear.remark.empty()) weakest.remark = gear.remark;
      }
      if (weakest.lo_g == kForever) weakest.lo_g = weakest.best_g = 0;
      add_piece(sum, weakest, index);
    }
    rigging_.back().to_us = time_us;
    rigging_.push_back(std::move(sum));
  }
}

std::vector<RiggingUse> RiggingState::in_use(int64_t time_us) const {
  std::vector<RiggingUse> found;
  std::copy_if(uses_.begin(), uses_.end(), std::back_inserter(found), [&](const RiggingUse& use) {
    return use.from_us <= time_us && time_us < use.to_us;
  });
  return found;
}

std::optional<Reason> RiggingState::may_be_other(int64_t time_us) const {
  int64_t said_us = kBeginning;
  for (const int index : lines_.spoken()) {
    const JobLine& line = lines_.line(index);
    if (line.observation->has_rigging() && line.stamp.time_us <= time_us)
      said_us = line.stamp.time_us;
  }
  std::optional<Reason> why;
  for (const SourceGap& gap : lines_.gaps()) {
    if (is_person(gap.source) && gap.channel.empty() && gap.to_us > said_us &&
        gap.from_us < time_us)
      why = std::min(why.value_or(gap.reason), gap.reason);
  }
  return why;
}

Interval RiggingState::line_rating(int64_t time_us, const TruckItem* truck) const {
  Interval rating = stated_line_rating(time_us, truck);
  if (!may_be_other(time_us)) return rating;
  rating.lo.reset();
  rating.hi = truck != nullptr ? truck->line_rating_up_n : std::nullopt;
  return rating;
}

Interval RiggingState::stated_line_rating(int64_t time_us, const TruckItem* truck) const {
  Interval rating{std::nullopt, std::nullopt, std::nullopt};
  if (truck != nullptr && truck->line_rating_n) {
    rating = {*truck->line_rating_n, *truck->line_rating_n, *truck->line_rating_up_n};
  }
  bool unread = !rating.lo;  // What nobody rated may be the weakest.
  for (const RiggingUse& use : in_use(time_us)) {
    for (const std::string& id : use.rigging->gear()) {
      const PieceRating gear = rating_of(book_.gear(id), id, time_us);
      if (gear.count == 0) return {0, 0, 0};  // Nothing that counts holds the line.
      const Interval least = newtons(gear.lo_g);
      if (gear.lo_g > 0) {
        rating.lo = std::min(rating.lo.value_or(kForever), *least.lo);
        rating.best = std::min(rating.best.value_or(kForever), *least.best);
      }
      unread = unread || gear.lo_g == 0;
      if (gear.hi_g) rating.hi = std::min(rating.hi.value_or(kForever), *newtons(*gear.hi_g).hi);
    }
  }
  if (unread) rating.lo.reset();
  if (rating.best && rating.hi) rating.best = std::min(*rating.best, *rating.hi);
  return rating;
}

std::vector<std::string> RiggingState::gear_not_counting() const {
  std::set<std::string> remarks;
  for (const RiggingUse& use : uses_) {
    for (const std::string& id : use.rigging->gear()) {
      const GearItem* item = book_.gear(id);
      std::vector<int64_t> times{use.from_us};
      for (const int64_t date_us : item ? item->turning_points() : std::vector<int64_t>{}) {
        if (date_us > use.from_us && date_us < use.to_us && date_us <= lines_.end_us())
          times.push_back(date_us);
      }
      for (const int64_t time_us : times) {
        const PieceRating gear = rating_of(item, id, time_us);
        if (gear.count == 0 || !gear.surely) remarks.insert(gear.remark);
      }
    }
  }
  return {remarks.begin(), remarks.end()};
}

Interval RiggingState::point_rating(int64_t time_us, const VehicleItem* vehicle) const {
  if (vehicle == nullptr) return {};
  std::optional<int64_t> least, least_up;
  for (const RiggingUse& use : in_use(time_us)) {
    const auto point = vehicle->points.find(use.rigging->point());
    if (point == vehicle->points.end() || !point->second) return {};
    least = std::min(least.value_or(kForever), *point->second);
    least_up = std::min(least_up.value_or(kForever), vehicle->points_up.at(point->first));
  }
  if (may_be_other(time_us)) return {std::nullopt, least, std::nullopt};
  return {least, least, least_up};
}

}  // namespace fairlead::judge
