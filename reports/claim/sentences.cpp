#include "reports/claim/sentences.h"

#include <algorithm>

#include "reports/claim/answer.h"
#include "reports/claim/finding_words.h"
#include "reports/text.h"

namespace fairlead::reports {
namespace {

std::string capital(std::string text) {
  if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') text[0] = static_cast<char>(text[0] - 32);
  return text;
}

std::string exhibits_of(const std::vector<size_t>& findings, char letter = 'F') {
  std::vector<std::string> names;
  for (const size_t index : findings) names.push_back(exhibit(letter, index));
  constexpr size_t kMost = 6;
  if (names.size() > kMost) {
    const size_t more = names.size() - kMost + 1;
    names.resize(kMost - 1);
    names.push_back(count_word(more) + " more");
  }
  return listed(names);
}

std::string rules_words(size_t count, const char* tail) {
  return count_word(count) + (count == 1 ? " rule " : " rules ") + tail;
}

std::string deviated_sentence(const Tied& tied) {
  const size_t all = tied.deviated.size() + tied.met.size() + tied.open.size();
  std::string out = all == 1 ? "The one finding"
                             : capital(count_word(tied.deviated.size())) + " of the " +
                                   count_word(all) + " findings";
  out += " tied to this allegation " + std::string(tied.deviated.size() == 1 ? "is" : "are") +
         " outside the limit: " + exhibits_of(tied.deviated);
  if (!tied.met.empty()) out += "; inside: " + exhibits_of(tied.met);
  if (!tied.open.empty()) out += "; not shown by the record: " + exhibits_of(tied.open);
  if (!tied.reading_outside.empty())
    out += "; and, not judged, outside too: " + exhibits_of(tied.reading_outside, 'R');
  return out + ".";
}

std::string reading_sentence(const Tied& tied) {
  const bool one = tied.reading_outside.size() == 1;
  std::string out = "No rule judges it, but " + std::string(one ? "one reading" : "readings") +
                    " of the record speak" + (one ? "s" : "") +
                    " for it: " + exhibits_of(tied.reading_outside, 'R');
  if (!tied.met.empty()) out += "; inside the limit: " + exhibits_of(tied.met);
  if (!tied.open.empty()) out += "; not shown by the record: " + exhibits_of(tied.open);
  return out + ".";
}

std::string undecided_sentence(const JobRecord& record, const Tied& tied) {
  if (!tied.open.empty()) {
    return capital(rules_words(tied.open.size(), "tied to this allegation ")) +
           (tied.open.size() == 1 ? "is" : "are") +
           " not shown by the record: " + exhibits_of(tied.open) + ".";
  }
  if (!tied.met.empty() && !tied.all_met_measured) {
    std::vector<size_t> on_word;
    for (const size_t index : tied.met) {
      if (record.findings[index].basis != judge::Basis::kMeasured) on_word.push_back(index);
    }
    return "The tied rules are inside their limits, but not every one is measured: " +
           exhibits_of(on_word.empty() ? tied.met : on_word) +
           (on_word.empty() ? " not settled." : " rest on pictures or on a person's word.");
  }
  if (!tied.met.empty() && !tied.all_calibrated) {
    return "The tied rules are inside their limits, but an instrument behind them had no "
           "calibration "
           "in date: " +
           exhibits_of(tied.met) + ".";
  }
  if (!tied.met.empty() && !tied.reading_open.empty()) {
    return "The tied rules are inside their limits, but what no rule judges is not shown: " +
           exhibits_of(tied.reading_open, 'R') + ".";
  }
  if (!tied.proof_missing.empty() || !tied.reading_missing.empty()) {
    std::string missing = exhibits_of(tied.proof_missing);
    const std::string readings = exhibits_of(tied.reading_missing, 'R');
    if (!missing.empty() && !readings.empty()) missing += " and ";
    return "What an answer would rest on is not on record: " + missing + readings + ".";
  }
  return "No rule of this job measures what is alleged.";
}

}  // namespace

std::string first_sentence(const JobRecord& record, Conclusion conclusion, const Tied& tied,
                           const PlaceFacts& place) {
  if (!tied.deviated.empty()) return deviated_sentence(tied);
  if (!tied.reading_outside.empty()) return reading_sentence(tied);
  if (conclusion == Conclusion::kMakesUnlikely && place.mark == PlaceMark::kNamedBefore) {
    return "A mark at " + shown(place.words) + " was listed before first touch.";
  }
  if (conclusion == Conclusion::kSupportsInPart) {
    return "A mark at " + shown(place.words) +
           " is listed at release; the place was pictured before first touch and none was listed "
           "there.";
  }
  if (conclusion == Conclusion::kDoesNotDecide) return undecided_sentence(record, tied);
  const bool one = tied.met.size() == 1;
  return (one ? std::string("The one finding")
              : "All " + count_word(tied.met.size()) + " findings") +
         " tied to this allegation " + (one ? "is inside its limit" : "are inside their limits") +
         " and measured: " + exhibits_of(tied.met) + ".";
}

std::string second_sentence(const v1::AllegationKind& kind, Conclusion conclusion,
                            const std::vector<std::string>& settle) {
  const bool act = kind.about() == v1::AllegationKind::ACT;
  switch (conclusion) {
    case Conclusion::kSupports:
    case Conclusion::kSupportsInPart:
      return act ? "The record shows how the car was handled; it does not show what followed from "
                   "it."
                 : "Outside a limit is not a cause: whether harm followed, the record does not "
                   "show.";
    case Conclusion::kMakesUnlikely:
      return act ? "An instrument was not in calibration, so it is called unlikely and no more."
                 : "That no harm came about, no limit kept can show.";
    case Conclusion::kContradicts:
      return "The whole measured range lies inside the limit.";
    case Conclusion::kDoesNotDecide:
      break;
  }
  return settle.empty() ? "What would settle it is outside this record."
                        : "What would settle it: " + settle.front();
}

std::string plain_finding_sentence(const judge::Finding& f) {
  const std::string title = title_words(f);
  if (f.applies == judge::Applies::kUnknown) return title + ": whether this applied is not shown.";
  switch (f.verdict) {
    case judge::Verdict::kMet:
      return title + ": inside the limit by " + margin_words(f) + " (" + basis_words(f) + ").";
    case judge::Verdict::kDeviated:
      return title + ": " + margin_words(f) + " (" + basis_words(f) + ").";
    default:
      break;
  }
  return title + ": not shown by the record (" + reason_words(f) + ").";
}

std::string plain_reading_sentence(const Reading& r) {
  std::string out = r.title + ": ";
  if (r.side == Side::kNotShown) out += "not shown";
  if (r.side == Side::kOutside) out += "outside";
  if (!r.value.empty())
    out += (r.side == Side::kNotShown || r.side == Side::kOutside ? ", " : "") + r.value;
  if (!r.words.empty()) out += "; " + r.words;
  return out + " (" + r.basis + ", not judged).";
}

}  // namespace fairlead::reports
