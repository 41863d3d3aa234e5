// The answer to one allegation: conclusion, two sentences, what speaks against it and for it, what
// the record does not show, what would settle it.
//
// Threads: values and pure functions.
#pragma once

#include <string>
#include <vector>

#include "daemon/base/result.h"
#include "reports/claim/allegation_table.h"
#include "reports/claim/conclusion.h"
#include "reports/claim/facts.h"
#include "reports/claim/signals.h"
#include "reports/text.h"

namespace fairlead::reports {

/// A line of a column and the exhibits it rests on ("F3", "P2").
struct AnswerLine {
  std::string words;
  std::vector<std::string> exhibits;
};

struct Answer {
  std::string letter, claimed, kind_id, kind_title;
  Conclusion conclusion = Conclusion::kDoesNotDecide;
  std::string first, second;  // The two sentences.
  std::vector<AnswerLine> against, in_favour, silent;
  std::vector<std::string> settle, not_judged;
  Tied tied;
  PlaceFacts place;
};

struct AnswerInput {
  const JobRecord& record;
  const JobFacts& facts;
  const std::vector<Series>& series;
  const std::vector<Reading>& readings;
  const LocalTime& local;
};

/// `kind` is a row of the table; `index` gives the letter (0 = a).
[[nodiscard]] Answer answer_allegation(const AnswerInput& input, const v1::AllegationKind& kind,
                                       const v1::Allegation& allegation, size_t index);

/// Exhibit names: findings F, readings R, pictures P, charts C, numbered from 1 in their tables'
/// order.
[[nodiscard]] std::string exhibit(char letter, size_t index);

}  // namespace fairlead::reports
