// The rule forms: each judges one rule on one job's facts and quantities. One form a file
// (form_NAME.cpp); what they share stands here and in forms.cpp.
//
// Threads: a JobView belongs to one thread.
#pragma once

#include <optional>
#include <set>
#include <span>
#include <string>
#include <vector>

#include "daemon/judge/fact_book.h"
#include "daemon/judge/finding.h"
#include "daemon/judge/quantities.h"
#include "daemon/judge/rigging_state.h"
#include "daemon/judge/rulebook.h"

namespace fairlead::judge {

class KeptWork;

/// Everything a form may look at.
struct JobView {
  const Rulebook::Content& rules;
  const Procedure& procedure;
  const JobLines& lines;
  const JobParties& parties;
  Quantities& quantities;
  RiggingState& rigging;
  FactBook& facts;
  KeptWork& kept;
};

/// Margin or value in stored units; an absent end does not exist.
struct Range {
  std::optional<int64_t> lo, best, hi;
};

/// What one occasion (a phase, an event, a handling) says about the rule.
struct Occasion {
  Range margin, value;
  std::set<Reason> doubts;  // Why it may stay unproven.
  std::optional<int64_t> at_us;
  std::vector<Evidence> evidence;
  Basis basis = Basis::kNone;
  std::string words;                       // For the sentence: what was seen, where.
  std::optional<int64_t> limit;            // In force on this occasion, when it differs.
  std::optional<int64_t> free_by_us = {};  // An `unless` before this frees it; absent: at_us.
};

struct Outcome;
using Outcomes = std::vector<Outcome>;

/// A rule's outcome before it is printed.
struct Outcome {
  std::string rule_id;
  Applies applies = Applies::kUnknown;
  Verdict verdict = Verdict::kUnproven;
  Reason reason = Reason::kNone;
  Occasion worst;
  Dimension dimension = Dimension::kCount;
  std::string unit;
  std::string quantity;  // What the value is, for reports.
  std::string limit;     // As printed: "under 5 km/h".
  std::optional<int64_t> limit_stored;
  std::set<std::string> listened;  // Sources the outcome depends on.
  std::vector<std::string> remarks;
  std::vector<HiddenSpan> holes = {};  // Where the quantity is unknown.
  std::set<std::string> doubted = {};  // Facts and quantities about which equal sources disagree.
  const Rule* rule = nullptr;          // Of a member of a set: its own.
  Outcomes members = {};               // Of a set: what each of its rules says.
};

void judge_form(JobView& view, const Rule& rule, const ComesFirst& form, Outcomes& out);
void judge_form(JobView& view, const Rule& rule, const LimitInPhase& form, Outcomes& out);
void judge_form(JobView& view, const Rule& rule, const TotalInPhase& form, Outcomes& out);
void judge_form(JobView& view, const Rule& rule, const EnoughStrength& form, Outcomes& out);
void judge_form(JobView& view, const Rule& rule, const EvidencePresent& form, Outcomes& out);
void judge_form(JobView& view, const Rule& rule, const FollowsWithin& form, Outcomes& out);
void judge_form(JobView& view, const Rule& rule, const StaysUntil& form, Outcomes& out);
void judge_form(JobView& view, const Rule& rule, const WaitBetween& form, Outcomes& out);
void judge_form(JobView& view, const Rule& rule, const NeverTogether& form, Outcomes& out);
void judge_form(JobView& view, const Rule& rule, const RecheckEvery& form, Outcomes& out);
void judge_form(JobView& view, const Rule& rule, const CountLimit& form, Outcomes& out);
void judge_form(JobView& view, const Rule& rule, const SourcesAgree& form, Outcomes& out);
void judge_form(JobView& view, const Rule& rule, const RuleSet& form, Outcomes& out);

/// met iff the margin's low end is inside, deviated iff its high end is outside; `under` excludes
/// equality with the limit. Doubts keep a met back; they never excuse a deviation.
[[nodiscard]] Verdict verdict_of(const Occasion& occasion, Bounds bounds);

/// The one that an outcome shows: by verdict, then the smaller margin; of equals the first. What
/// may hide elsewhere is a doubt of this one, so that it stays the one shown. At least one is
/// wanted.
[[nodiscard]] Occasion& worst_of(std::vector<Occasion>& occasions, Bounds bounds);

/// The rule's outcome from its occasions: one deviation condemns, only all met acquit; the worst
/// occasion is shown. Without any: applies no if that is sure, else unknown.
void conclude(JobView& view, const Rule& rule, Outcome& outcome, std::vector<Occasion>& occasions,
              const std::string& opener, Bounds bounds);

/// The same once `hidden` says why an occasion may have been missed; empty: none can.
void conclude_with(Outcome& outcome, const std::vector<Occasion>& occasions,
                   const std::set<Reason>& hidden, Bounds bounds);

/// conclude() for a universal form, where only completeness acquits: another occasion of `opener`
/// that may hide keeps a met back; `more` are such reasons the form knows. (A single lost sample is
/// bridged by the one before it, up to the longest hole; the finding is then not settled.)
void conclude_universal(JobView& view, const Rule& rule, Outcome& outcome,
                        std::vector<Occasion>& occasions, const std::string& opener, Bounds bounds,
                        const std::set<Reason>& more = {});

/// Where more occurrences of `event` that the rule is about may hide: in its while_phase, or where
/// that phase may have been open unseen, but for what hides after the rule's `unless`.
[[nodiscard]] std::vector<HiddenSpan> hidden_for(JobView& view, const Rule& rule,
                                                 const std::string& event);
/// The same for an event that something else waits for: a fact that no line names did not happen
/// as far as the record is whole, so only gaps hide it.
[[nodiscard]] std::vector<HiddenSpan> gaps_for(JobView& view, const Rule& rule,
                                               const std::string& event);
/// Why the rule's while_phase may have been open unseen during a stay of `phase`.
[[nodiscard]] std::set<Reason> hidden_stays(JobView& view, const Rule& rule,
                                            const std::string& phase);
[[nodiscard]] std::set<Reason> hidden_stays(JobView& view, const Rule& rule,
                                            const std::vector<PhaseSpan>& spans);
/// Where the rule's `unless` may hide.
[[nodiscard]] std::vector<HiddenSpan> hidden_unless(JobView& view, const Rule& rule);
/// Where it may hide before an occasion was decided, that deviates from nothing.
void doubt_unless(JobView& view, const Rule& rule, std::span<Occasion> occasions, Bounds bounds);
/// Why `event` may have happened unseen after `from_us`, before the rule's `unless` freed it.
void add_hidden_between(JobView& view, const Rule& rule, const std::string& event, int64_t from_us,
                        std::set<Reason>& reasons);
/// Why the job, not over yet or hidden in part, may hold occasions nobody has seen.
[[nodiscard]] std::set<Reason> hidden_reasons(JobView& view, const Rule& rule,
                                              const std::string& event);

/// Up to when these sources have told all: the job's end, or the first of their last lines.
[[nodiscard]] int64_t horizon_us(const JobView& view, const std::set<std::string>& sources);

/// Adds the stamp's line to what decides and its basis to the occasion's.
void cite(const JobView& view, const Stamp& stamp, const std::string& role, Occasion& occasion);

/// The first of the reasons in their fixed precedence.
[[nodiscard]] Reason first_reason(const std::set<Reason>& reasons);

[[nodiscard]] Evidence evidence_of(const JobView& view, int line, const std::string& role);
[[nodiscard]] Basis weaker(Basis a, Basis b);

/// A limit at one instant; ends absent where files and quantities say nothing.
[[nodiscard]] Range limit_at(JobView& view, const Limit& limit, int64_t time_us);
/// "under 5 km/h", and the unit the rule's figures are printed in.
void describe_limit(JobView& view, const Limit& limit, Bounds bounds, Outcome& outcome);

/// Whether `rule.unless` happened before `time_us`.
[[nodiscard]] bool excused(JobView& view, const Rule& rule, int64_t time_us);
/// Whether the rule may still meet an occasion: the job is open and nothing has freed it.
[[nodiscard]] bool may_go_on(JobView& view, const Rule& rule);
/// Why the rule's while_phase may have been closed unseen by `time_us`.
[[nodiscard]] std::set<Reason> may_be_outside(JobView& view, const Rule& rule, int64_t time_us);
/// What accuses after `time_us` stands only if the rule's while_phase surely lasted till then.
void doubt_outside(JobView& view, const Rule& rule, int64_t time_us, Occasion& occasion);
/// The stays up to the rule's `unless`: what comes after it is free.
[[nodiscard]] std::vector<PhaseSpan> until_freed(JobView& view, const Rule& rule,
                                                 std::vector<PhaseSpan> spans);
/// Parts of `spans` that lie in the rule's while_phase (all of them when it has none).
[[nodiscard]] std::vector<PhaseSpan> within_while(JobView& view, const Rule& rule,
                                                  const std::vector<PhaseSpan>& spans);
/// Less what lies where that phase may have been closed unseen.
[[nodiscard]] std::vector<PhaseSpan> surely_within_while(JobView& view, const Rule& rule,
                                                         const std::vector<PhaseSpan>& spans);
[[nodiscard]] bool within_while(JobView& view, const Rule& rule, int64_t time_us);

/// The span as readings of these sources see it: its ends as much less sure as their clock is
/// against the span's; nullopt when the clocks cannot be compared.
[[nodiscard]] std::optional<PhaseSpan> on_clock_of(const JobView& view,
                                                   const std::set<std::string>& sources,
                                                   const PhaseSpan& span);

/// A stored figure in the outcome's unit, rounded as asked, with the unit's usual places.
[[nodiscard]] std::string printed(const Outcome& outcome, int64_t stored, Toward toward);

}  // namespace fairlead::judge
