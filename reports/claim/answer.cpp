#include "reports/claim/answer.h"

#include <algorithm>

#include "reports/claim/finding_words.h"
#include "reports/claim/sentences.h"

namespace fairlead::reports {
namespace {

using judge::Applies;
using judge::Verdict;
using Text = v1::TextLine;

bool outcome_fits(const judge::Finding& f, Text::Outcome outcome) {
  if (f.applies == Applies::kNo) return false;
  switch (outcome) {
    case Text::MET:
      return f.verdict == Verdict::kMet;
    case Text::DEVIATED:
      return f.verdict == Verdict::kDeviated;
    case Text::UNPROVEN:
      return f.verdict == Verdict::kUnproven || f.applies == Applies::kUnknown;
    default:
      return false;
  }
}

double margin_number(const judge::Finding& f) {
  const auto number = f.margin_best ? read_number(*f.margin_best) : std::nullopt;
  return number.value_or(0);
}

// Of several findings of one rule (load and unload) the one nearest its limit speaks.
std::optional<size_t> speaking_finding(const AnswerInput& in, const std::string& rule,
                                       Text::Outcome outcome) {
  std::optional<size_t> chosen;
  for (size_t i = 0; i < in.record.findings.size(); ++i) {
    const auto& f = in.record.findings[i];
    if (!is_rule(f.rule, rule) || !outcome_fits(f, outcome)) continue;
    if (!chosen || margin_number(f) < margin_number(in.record.findings[*chosen])) chosen = i;
  }
  return chosen;
}

bool rule_judged(const AnswerInput& in, const std::string& rule) {
  return std::any_of(in.record.findings.begin(), in.record.findings.end(), [&](const auto& f) {
    return is_rule(f.rule, rule) && f.applies != Applies::kNo;
  });
}

const Series* series_named(const AnswerInput& in, std::string_view signal) {
  for (const auto& series : in.series) {
    if (series.signal == signal && !series.points.empty()) return &series;
  }
  return nullptr;
}

// Fills placeholders of one text; `missing` is set where the record holds no such figure.
class Filler {
 public:
  Filler(const AnswerInput& in, const PlaceFacts& place, Text::Outcome outcome)
      : in_(in), place_(place), outcome_(outcome) {}

  std::optional<std::string> fill(const std::string& say) {
    std::string out;
    for (size_t at = 0; at < say.size();) {
      const size_t open = say.find('{', at);
      out.append(say, at, open == std::string::npos ? std::string::npos : open - at);
      if (open == std::string::npos) break;
      const size_t close = say.find('}', open);
      const auto value = look_up(std::string_view(say).substr(open + 1, close - open - 1));
      if (!value) return std::nullopt;
      out += *value;
      at = close + 1;
    }
    if (!out.empty() && out[0] >= 'a' && out[0] <= 'z') out[0] = static_cast<char>(out[0] - 32);
    return out;
  }
  [[nodiscard]] const std::vector<std::string>& exhibits() const { return exhibits_; }
  void cite(const std::string& name) {
    if (std::find(exhibits_.begin(), exhibits_.end(), name) == exhibits_.end()) {
      exhibits_.push_back(name);
    }
  }

 private:
  std::optional<std::string> look_up(std::string_view inside) {
    if (inside == "place") return shortened(shown(place_.words), 80);
    if (inside == "limits")
      return place_.limits.empty() ? std::nullopt : std::optional(listed(place_.limits));
    if (inside == "gear_places") return or_none(gear_places(in_.facts));
    if (inside == "authority") return or_none(authority_words(in_.facts));
    if (inside == "smallest_mark") {
      if (!place_.smallest_before) return std::nullopt;
      return fixed(*place_.smallest_before, 0) + " mm";
    }
    if (inside == "first_touch") {
      if (!in_.facts.first_touch) return std::string("the job");
      return in_.local.minute(*in_.facts.first_touch) + " on " +
             in_.local.date(*in_.facts.first_touch);
    }
    if (inside == "span")
      return in_.local.minute(in_.facts.begin_us) + " to " + in_.local.minute(in_.facts.end_us) +
             " on " + in_.local.date(in_.facts.begin_us);
    if (inside == "photos:before") return grouped(place_.before.size());
    if (inside == "photos:after") return grouped(place_.after.size());
    const size_t last = inside.rfind(':');
    const std::string part(inside.substr(last + 1));
    if (inside.starts_with("rule:")) return of_rule(std::string(inside.substr(5, last - 5)), part);
    if (inside.starts_with("reading:")) return of_reading(inside.substr(8, last - 8), part);
    return of_signal(inside.substr(7, last - 7), part);
  }

  std::optional<std::string> of_rule(const std::string& rule, const std::string& part) {
    const auto index = speaking_finding(in_, rule, outcome_);
    if (!index) return std::nullopt;
    const auto& f = in_.record.findings[*index];
    cite(exhibit('F', *index));
    if (part == "basis") return basis_words(f);
    if (part == "limit") return f.limit.empty() ? std::nullopt : std::optional(limit_words(f));
    if (part == "margin") return margin_words(f);
    if (!f.value_best && !f.value_lo && !f.value_hi) return std::nullopt;
    return value_words(f);
  }

  static std::optional<std::string> or_none(std::string text) {
    if (text.empty()) return std::nullopt;
    return text;
  }

  std::optional<std::string> of_reading(std::string_view id, const std::string& part) {
    for (size_t i = 0; i < in_.readings.size(); ++i) {
      const Reading& reading = in_.readings[i];
      if (reading.id != id) continue;
      cite(exhibit('R', i));
      if (part == "basis") return reading.basis + ", not judged";
      return or_none(part == "value"   ? reading.value
                     : part == "limit" ? reading.limit
                                       : reading.words);
    }
    return std::nullopt;
  }

  std::optional<std::string> of_signal(std::string_view signal, const std::string& part) {
    const Series* series = series_named(in_, signal);
    if (series == nullptr) return std::nullopt;
    const auto less = [](const SeriesPoint& a, const SeriesPoint& b) { return a.value < b.value; };
    const auto [lo, hi] = std::minmax_element(series->points.begin(), series->points.end(), less);
    cite(exhibit('C', static_cast<size_t>(series - in_.series.data())));
    const SeriesPoint& point = part == "min" ? *lo : *hi;
    if (part == "max_at") return in_.local.clock(point.time_us);
    return fixed(point.value, series->decimals) + " " + series->unit;
  }

  const AnswerInput& in_;
  const PlaceFacts& place_;
  Text::Outcome outcome_;
  std::vector<std::string> exhibits_;
};

bool place_fits(const Text& text, const PlaceFacts& place, const JobFacts& facts) {
  if (text.limited() && place.limits.empty()) return false;
  const PlacePictures of_view =
      text.view().empty() ? place.pictures : view_facts({text.view()}, facts).pictures;
  const auto pictures = static_cast<int>(of_view) + 1;  // Same order as the proto's words.
  const auto mark = static_cast<int>(place.mark) + 1;
  return (text.pictures() == Text::PICTURES_UNSET || text.pictures() == pictures) &&
         (text.mark() == Text::MARK_UNSET || text.mark() == mark);
}

// What the text asks of a reading.
bool reading_fits(const AnswerInput& in, const Text& text) {
  const auto found = std::find_if(in.readings.begin(), in.readings.end(),
                                  [&](const Reading& r) { return r.id == text.reading(); });
  if (found == in.readings.end()) return text.outcome() == Text::ABSENT;
  switch (text.outcome()) {
    case Text::MET:
      return found->side == Side::kInside;
    case Text::DEVIATED:
      return found->side == Side::kOutside;
    case Text::UNPROVEN:
      return found->side == Side::kNotShown;
    case Text::ABSENT:
      return false;
    default:
      return true;
  }
}

bool condition_holds(const AnswerInput& in, const Text& text, const PlaceFacts& place) {
  if (!place_fits(text, place, in.facts)) return false;
  if (!text.reading().empty() && !reading_fits(in, text)) return false;
  if (!text.recorded().empty() && series_named(in, text.recorded()) == nullptr) return false;
  if (!text.not_recorded().empty() && series_named(in, text.not_recorded()) != nullptr)
    return false;
  if (text.rule().empty()) return true;
  if (text.outcome() == Text::ABSENT) return !rule_judged(in, text.rule());
  return speaking_finding(in, text.rule(), text.outcome()).has_value();
}

void cite_pictures(const Text& text, const PlaceFacts& place, const JobFacts& facts,
                   Filler& filler) {
  if (!text.view().empty()) {
    const ViewFacts seen = view_facts({text.view()}, facts);
    if (!seen.before.empty()) filler.cite(exhibit('P', seen.before.front()));
    if (!seen.after.empty()) filler.cite(exhibit('P', seen.after.front()));
    return;
  }
  if (text.pictures() == Text::PICTURES_UNSET && text.mark() == Text::MARK_UNSET) return;
  if (!place.before.empty()) filler.cite(exhibit('P', place.before.front()));
  if (!place.after.empty()) filler.cite(exhibit('P', place.after.front()));
}

std::vector<AnswerLine>& column(Answer& answer, Text::Shows shows) {
  return shows == Text::AGAINST_IT ? answer.against
         : shows == Text::FOR_IT   ? answer.in_favour
                                   : answer.silent;
}

void add_table_lines(const AnswerInput& in, const v1::AllegationKind& kind, Answer& answer) {
  for (const auto& text : kind.text()) {
    if (!condition_holds(in, text, answer.place)) continue;
    Filler filler(in, answer.place, text.outcome());
    const auto filled = filler.fill(text.say());
    if (!filled) continue;
    if (!text.rule().empty() && text.outcome() != Text::ABSENT) {
      filler.cite(exhibit('F', *speaking_finding(in, text.rule(), text.outcome())));
    }
    for (size_t i = 0; i < in.readings.size(); ++i) {
      if (in.readings[i].id == text.reading()) filler.cite(exhibit('R', i));
    }
    cite_pictures(text, answer.place, in.facts, filler);
    column(answer, text.shows()).push_back({*filled, filler.exhibits()});
  }
}

bool cited(const Answer& answer, const std::string& name) {
  for (const auto* lines : {&answer.against, &answer.in_favour, &answer.silent}) {
    for (const auto& line : *lines) {
      if (std::find(line.exhibits.begin(), line.exhibits.end(), name) != line.exhibits.end()) {
        return true;
      }
    }
  }
  return false;
}

// A tied finding that no text of the table speaks of still belongs to its column.
void add_untold_findings(const AnswerInput& in, Answer& answer) {
  const auto add = [&](const std::vector<size_t>& indices, std::vector<AnswerLine>& lines) {
    for (const size_t index : indices) {
      const std::string name = exhibit('F', index);
      if (!cited(answer, name)) {
        lines.push_back({plain_finding_sentence(in.record.findings[index]), {name}});
      }
    }
  };
  add(answer.tied.deviated, answer.in_favour);
  add(answer.tied.met, answer.against);
  add(answer.tied.open, answer.silent);
  add(answer.tied.proof_missing, answer.silent);
  const auto add_readings = [&](const std::vector<size_t>& indices,
                                std::vector<AnswerLine>& lines) {
    for (const size_t index : indices) {
      const std::string name = exhibit('R', index);
      if (!cited(answer, name))
        lines.push_back({plain_reading_sentence(in.readings[index]), {name}});
    }
  };
  add_readings(answer.tied.reading_outside, answer.in_favour);
  add_readings(answer.tied.reading_open, answer.silent);
  add_readings(answer.tied.reading_missing, answer.silent);
}

}  // namespace

std::string exhibit(char letter, size_t index) { return letter + std::to_string(index + 1); }

Answer answer_allegation(const AnswerInput& in, const v1::AllegationKind& kind,
                         const v1::Allegation& allegation, size_t index) {
  Answer answer;
  answer.letter = std::string(1, static_cast<char>('a' + index % 26));
  answer.claimed = allegation.words();
  answer.kind_id = kind.id();
  answer.kind_title = kind.title();
  answer.place = place_facts(kind, allegation.spot(), in.facts);
  answer.tied = tie(kind, in.record, in.series, in.readings);
  answer.conclusion = conclude(kind, answer.tied, answer.place);
  add_table_lines(in, kind, answer);
  add_untold_findings(in, answer);
  Filler filler(in, answer.place, Text::OUTCOME_UNSET);
  for (const auto& settle : kind.settle()) {
    if (auto filled = filler.fill(settle)) answer.settle.push_back(std::move(*filled));
  }
  answer.not_judged.assign(kind.not_judged().begin(), kind.not_judged().end());
  answer.first = first_sentence(in.record, answer.conclusion, answer.tied, answer.place);
  answer.second = second_sentence(kind, answer.conclusion, answer.settle);
  return answer;
}

}  // namespace fairlead::reports
