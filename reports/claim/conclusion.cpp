#include "reports/claim/conclusion.h"

#include <algorithm>

namespace fairlead::reports {
namespace {

using judge::Applies;
using judge::Basis;
using judge::Verdict;

bool view_fits(const std::string& pattern, const std::string& view) {
  if (pattern.ends_with('*')) return view.starts_with(pattern.substr(0, pattern.size() - 1));
  return pattern == view;
}

std::string lower(std::string text) {
  for (char& c : text) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
  return text;
}

// "spot:front lip" and "front lip" name one place.
std::string bare_place(const std::string& view) {
  const size_t colon = view.find(':');
  return lower(colon == std::string::npos ? view : view.substr(colon + 1));
}

bool instrument_in_date(const JobRecord& record, const std::vector<Series>& series,
                        const judge::Finding& finding) {
  const std::string signal = signal_behind(finding.quantity, series);
  if (signal.empty()) return true;  // Marks, counts and plates have no reading to calibrate.
  return calibration_of(record, signal, finding.at_us).in_date;
}

void sort_in(const JobRecord& record, const std::vector<Series>& series, v1::TiedRule::Bears bears,
             size_t index, Tied& tied) {
  const judge::Finding& finding = record.findings[index];
  const bool met = finding.applies == Applies::kYes && finding.verdict == Verdict::kMet;
  const bool deviated = finding.applies == Applies::kYes && finding.verdict == Verdict::kDeviated;
  if (bears == v1::TiedRule::PROOF) {
    if (!met) tied.proof_missing.push_back(index);
    return;
  }
  const bool measured = finding.basis == Basis::kMeasured && finding.settled;
  if (deviated) {
    tied.deviated.push_back(index);
    if (bears == v1::TiedRule::CORE && measured) tied.core_deviated_measured = true;
  } else if (met) {
    tied.met.push_back(index);
    if (bears == v1::TiedRule::CORE) tied.core_met = true;
    tied.all_met_measured = tied.all_met_measured && measured;
    tied.all_calibrated = tied.all_calibrated && instrument_in_date(record, series, finding);
  } else {
    tied.open.push_back(index);
  }
}

void sort_in_readings(const v1::AllegationKind& kind, const std::vector<Reading>& readings,
                      Tied& tied) {
  for (size_t i = 0; i < readings.size(); ++i) {
    for (const auto& tie : kind.reading()) {
      if (readings[i].id != tie.id()) continue;
      const bool proof = tie.bears() == v1::TiedRule::PROOF;
      const Side side = readings[i].side;
      if (proof && side != Side::kInside) tied.reading_missing.push_back(i);
      if (!proof && side == Side::kOutside) tied.reading_outside.push_back(i);
      if (tie.bears() == v1::TiedRule::CORE && side == Side::kNotShown)
        tied.reading_open.push_back(i);
    }
  }
}

}  // namespace

const char* words(Conclusion conclusion) {
  switch (conclusion) {
    case Conclusion::kContradicts:
      return "The record contradicts it";
    case Conclusion::kMakesUnlikely:
      return "The record makes it unlikely";
    case Conclusion::kSupportsInPart:
      return "The record supports it in part";
    case Conclusion::kSupports:
      return "The record supports it";
    case Conclusion::kDoesNotDecide:
      break;
  }
  return "The record does not decide it";
}

bool is_rule(const std::string& rule, const std::string& id) {
  return rule == id || rule.starts_with(id + ".");
}

ViewFacts view_facts(const std::vector<std::string>& views, const JobFacts& facts) {
  ViewFacts out;
  for (const auto& view : views) {
    for (size_t i = 0; i < facts.photos.size(); ++i) {
      const PhotoFact& photo = facts.photos[i];
      if (photo.film || !view_fits(view, photo.view)) continue;
      // A picture called "before" but taken after first touch shows no state before it.
      const bool in_time = !facts.first_touch || photo.time_us <= *facts.first_touch;
      if (photo.when == v1::When::BEFORE && in_time) out.before.push_back(i);
      if (photo.when == v1::When::AFTER) out.after.push_back(i);
    }
  }
  const bool before = !out.before.empty(), after = !out.after.empty();
  out.pictures = before && after ? PlacePictures::kBoth
                 : before        ? PlacePictures::kBeforeOnly
                 : after         ? PlacePictures::kAfterOnly
                                 : PlacePictures::kNone;
  return out;
}

PlaceFacts place_facts(const v1::AllegationKind& kind, const std::string& spot,
                       const JobFacts& facts) {
  PlaceFacts place;
  place.words = spot.empty() ? "the claimed place" : bare_place(spot);
  std::vector<std::string> views(kind.photo().begin(), kind.photo().end());
  if (!spot.empty()) views = {spot, "spot:" + spot, "point:" + spot, "wheel:" + spot};
  ViewFacts seen = view_facts(views, facts);
  place.before = std::move(seen.before);
  place.after = std::move(seen.after);
  place.pictures = seen.pictures;
  for (const size_t i : place.before) {
    for (const auto& limit : facts.photos[i].limits) {
      if (std::find(place.limits.begin(), place.limits.end(), limit) == place.limits.end())
        place.limits.push_back(limit);
    }
  }
  for (const auto& condition : facts.conditions) {
    if (condition.when != v1::When::BEFORE || condition.size_mm <= 0) continue;
    place.smallest_before =
        std::min(place.smallest_before.value_or(condition.size_mm), condition.size_mm);
  }
  const bool before = !place.before.empty();
  if (spot.empty()) return place;
  bool listed_before = false;
  bool listed_after = false;
  for (const auto& condition : facts.conditions) {
    if (bare_place(condition.place) != place.words) continue;
    const bool in_time = !facts.first_touch || condition.time_us <= *facts.first_touch;
    listed_before = listed_before || (condition.when == v1::When::BEFORE && in_time);
    listed_after = listed_after || condition.when == v1::When::AFTER;
  }
  if (listed_before) place.mark = PlaceMark::kNamedBefore;
  if (!listed_before && listed_after && before) place.mark = PlaceMark::kNewAfter;
  return place;
}

Tied tie(const v1::AllegationKind& kind, const JobRecord& record, const std::vector<Series>& series,
         const std::vector<Reading>& readings) {
  Tied tied;
  sort_in_readings(kind, readings, tied);
  tied.all_met_measured = tied.all_calibrated = true;
  for (size_t i = 0; i < record.findings.size(); ++i) {
    if (record.findings[i].applies == Applies::kNo) continue;
    for (const auto& rule : kind.rule()) {
      if (!is_rule(record.findings[i].rule, rule.id())) continue;
      sort_in(record, series, rule.bears(), i, tied);
      break;
    }
  }
  return tied;
}

Conclusion conclude(const v1::AllegationKind& kind, const Tied& tied, const PlaceFacts& place) {
  const bool act = kind.about() == v1::AllegationKind::ACT;
  // 1. Something tied to the allegation lies outside its limit: it has at least that for it. The
  //    whole of it only where the allegation is that very act and an instrument shows it, or where
  //    the harm is listed at release and not before.
  if (!tied.deviated.empty()) {
    const bool shown = act ? tied.core_deviated_measured
                           : tied.core_deviated_measured && place.mark == PlaceMark::kNewAfter;
    return shown ? Conclusion::kSupports : Conclusion::kSupportsInPart;
  }
  //    A reading that is outside, which no rule judged, gives it a part and never the whole.
  if (!tied.reading_outside.empty()) return Conclusion::kSupportsInPart;
  // 2. Harm: a mark listed before first touch was there; one listed only at release, at a place
  //    pictured before, was not listed there then.
  if (!act && place.mark == PlaceMark::kNamedBefore) return Conclusion::kMakesUnlikely;
  if (!act && place.mark == PlaceMark::kNewAfter) return Conclusion::kSupportsInPart;
  // 3. Every tied rule is inside its limit and measured. An act is thereby contradicted, harm only
  //    made unlikely; an instrument out of calibration weighs one step less.
  if (tied.core_met && tied.open.empty() && tied.reading_open.empty() && tied.all_met_measured) {
    if (act) return tied.all_calibrated ? Conclusion::kContradicts : Conclusion::kMakesUnlikely;
    if (tied.all_calibrated) return Conclusion::kMakesUnlikely;
  }
  // 4. Anything else is silence: not shown, said only, or a picture missing.
  return Conclusion::kDoesNotDecide;
}

}  // namespace fairlead::reports
