// Facts, events and phases of one job, each built from its lines when first asked for.
//
// Threads: caches inside; one thread at a time.
#pragma once

#include <map>
#include <set>
#include <string>
#include <vector>

#include "daemon/judge/instrument_lasting.h"
#include "daemon/judge/job_lines.h"
#include "daemon/judge/quantities.h"
#include "daemon/judge/rulebook.h"
#include "daemon/judge/timeline.h"

namespace fairlead::judge {

/// A span in which an event may have happened unseen.
struct HiddenSpan {
  int64_t from_us, to_us;
  Reason reason;
};

/// One stay of a phase: [open, close).
struct PhaseSpan {
  Stamp open;
  Stamp close;          // The end of the job while `closed` is false.
  bool closed = false;  // A closing event, or the job's end, was seen.

  [[nodiscard]] int64_t surely_from() const { return open.time_us + open.late_us; }
  [[nodiscard]] int64_t surely_to() const { return close.time_us - close.early_us; }
  [[nodiscard]] int64_t possibly_from() const { return open.time_us - open.early_us; }
  [[nodiscard]] int64_t possibly_to() const { return close.time_us + close.late_us; }
};

/// A word of a person that a healthy, calibrated instrument contradicts.
struct Contradiction {
  std::string fact;
  int word_line, instrument_line;
};

class FactBook {
 public:
  FactBook(const JobLines& lines, Quantities& quantities, const JobParties& parties);

  /// The lines have grown: all that stood before `changed_from_us` stands.
  void follow(int64_t changed_from_us);
  /// The procedure whose phases `phase:ID` and phase() mean from here on.
  void use(const Procedure& procedure);

  [[nodiscard]] const Timeline& fact(const std::string& name);
  /// Occurrences in order of time.
  [[nodiscard]] const std::vector<Stamp>& events(const std::string& name);
  /// Where more occurrences may hide: in gaps, or anywhere where no source ever spoke of it.
  [[nodiscard]] std::vector<HiddenSpan> hidden(const std::string& name);
  /// The same for what did not happen as far as the record is whole: in gaps alone.
  [[nodiscard]] std::vector<HiddenSpan> hidden_in_gaps(const std::string& name);
  [[nodiscard]] const std::vector<PhaseSpan>& phase(const std::string& id);
  /// Where first a stay of `phase` within `outer` (or "") may have been closed unseen: what comes
  /// after lies in another stay, or in none.
  [[nodiscard]] std::optional<HiddenSpan> may_close(const std::string& phase,
                                                    const std::string& outer,
                                                    const PhaseSpan& span);
  /// Event that opens a phase, for asking what may hide.
  [[nodiscard]] std::string opener(const std::string& id) const;
  /// Sources whose lines speak of the fact, event or phase; the operator's for every word.
  [[nodiscard]] std::set<std::string> sources(const std::string& name);
  [[nodiscard]] std::vector<Contradiction> contradictions();

 private:
  struct Said {
    Stamp stamp;
    Tri value;
  };
  void read_lines();
  Timeline word_fact(const std::string& name) const;
  [[nodiscard]] bool may_speak(const std::string& source, const std::string& name) const;
  [[nodiscard]] bool in_gap(const std::string& name, int64_t time_us) const;
  int64_t first_measured_us(const std::string& name) const;
  void forget_aged(const std::string& name, const std::vector<Said>& said,
                   Timeline& timeline) const;
  Timeline build(const std::string& name);
  Timeline contact_fact(const std::string& name, const Timeline& word);
  Timeline clamped();
  Timeline boost_reading_fact(const std::string& name);
  Timeline holding_fact();
  Timeline pull_fact(const std::string& name, int64_t on_n, int64_t on_for_us);
  Timeline taut_fact();
  Timeline pulling_fact();
  Timeline deck_moving_fact();
  Timeline truck_moving_fact();
  Timeline motion_fact();
  Timeline rolling_fact();
  Timeline phase_fact(const std::vector<PhaseSpan>& spans) const;
  std::vector<Stamp> fact_events(const FactEvent& event);
  [[nodiscard]] int64_t first_gap_us(const std::string& name, int64_t until_us);
  std::vector<Stamp> first_touch();
  std::optional<int64_t> unknown_at_end(const std::string& id);
  std::vector<PhaseSpan> build_phase(const std::string& id);
  std::vector<PhaseSpan> handlings();
  [[nodiscard]] Stamp job_end() const;

  const JobLines& lines_;
  Quantities& quantities_;
  const JobParties& parties_;
  const Procedure* procedure_ = nullptr;
  std::map<std::string, std::vector<Said>> said_;  // Base facts by word.
  std::map<std::string, std::vector<Stamp>> momentary_;
  std::map<std::string, std::set<std::string>> said_by_;
  std::map<std::string, Begun> begun_;  // What instruments tell, by fact.
  std::map<std::string, Timeline> facts_;
  std::map<std::string, std::vector<Stamp>> events_;
  std::map<std::string, std::vector<PhaseSpan>> phases_;
};

}  // namespace fairlead::judge
