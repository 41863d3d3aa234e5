// What the judge's tests share: observation lines from JSON, rulebooks from text, files of the
// tree.
//
// Threads: pure functions. Times are seconds after 2026-03-02T10:00:00Z, one clock unless said.
#pragma once

#include <string>
#include <vector>

#include "daemon/judge/judge.h"

namespace fairlead::judge {

using Lines = std::vector<v1::Observation>;

/// A line of `source` with `kind` = its JSON member ("\"alive\":{}"). Fails the test on a bad line.
[[nodiscard]] v1::Observation line_at(double second, const std::string& source, uint32_t seq,
                                      const std::string& kind);
/// `opened` at 0 s and `closed` at `end`, both by "operator" with seq 1 and `last_seq`.
[[nodiscard]] v1::Observation opened_line();
[[nodiscard]] v1::Observation closed_line(double second, uint32_t last_seq);

/// A fix of the tag on the car with this speed and its s.d.
[[nodiscard]] v1::Observation speed_line(double second, uint32_t seq, double mps, double sd_mps);

/// Rules in a procedure with the phases of the vocabulary's example. Fails the test on errors.
[[nodiscard]] Rulebook rulebook_of(const std::string& rules);

/// A rule's head: id, title and origin.
[[nodiscard]] std::string rule_head(const std::string& id);

/// A finding in short: "met 10 10 12 s", "unproven(no_data) - 0 3 items", "no", "unknown(no_data)".
[[nodiscard]] std::string told(const Finding& finding);
/// Its sentence without the procedure's name and hash.
[[nodiscard]] std::string sentence_of(const Finding& finding);
/// The first finding of one rule with this form, in short; `phases` come before it.
[[nodiscard]] Finding judged_form(const std::string& form, const Lines& lines,
                                  const std::string& phases = "");
/// The same once for each line that can be lost (not opened, closed, nor a source's first or last):
/// "SOURCE SEQ: told".
[[nodiscard]] std::vector<std::string> with_each_lost(const std::string& form, const Lines& lines,
                                                      const std::string& phases = "");
/// Judges every permutation of up to 7 lines (of more: 2,000 shuffles); the test fails where bytes
/// differ.
void expect_any_order(const std::string& form, const Lines& lines, const std::string& phases = "");

/// All problems `load` finds in one procedure or one register text, a line each.
[[nodiscard]] std::vector<std::string> procedure_problems(const std::string& text);
[[nodiscard]] std::vector<std::string> register_problems(const std::string& text);

[[nodiscard]] std::string read_file(const std::string& path);
/// Files of a folder with that ending, sorted by name; names are "FOLDER/NAME".
[[nodiscard]] std::vector<SourceFile> files_in(const std::string& folder);

}  // namespace fairlead::judge
