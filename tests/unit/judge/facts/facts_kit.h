// What the tests of facts share: lines to the microsecond, a job made of them, and facts, series
// and gaps in short.
//
// Threads: pure functions. Times are microseconds, of lines after 2026-03-02T10:00:00Z; they are
// told in seconds.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "daemon/judge/job_state.h"

namespace fairlead::judge {

using Lines = std::vector<v1::Observation>;

constexpr int64_t kTen = 1'772'445'600'000'000;  // 2026-03-02T10:00:00Z.
constexpr int64_t kSecondUs = 1'000'000;

/// A line of job "j" with `kind` as its JSON member; `more` are further members
/// ("\"clock\":\"truck\""). Fails the test on a bad line.
[[nodiscard]] v1::Observation said(int64_t us, const std::string& source, uint32_t seq,
                                   const std::string& kind,
                                   const std::string& more = R"("clock":"truck")");
[[nodiscard]] v1::Observation opened(int64_t us = 0, const std::string& more = "",
                                     uint32_t seq = 1);
[[nodiscard]] v1::Observation closed(int64_t us, uint32_t seq);
[[nodiscard]] v1::Observation sampled(int64_t us, const std::string& source, uint32_t seq,
                                      const std::string& signal, double value);

/// Microseconds.
[[nodiscard]] int64_t s(double second);
[[nodiscard]] v1::Observation line(double second, const std::string& source, uint32_t seq,
                                   const std::string& kind,
                                   const std::string& more = R"("clock":"truck")");
/// By the operator.
[[nodiscard]] v1::Observation op(double second, uint32_t seq, const std::string& kind);
/// What a line may say.
inline const std::string kNote = R"("note":{"text":"-"})", kArrived = R"("arrived":{})",
                         kAlive = R"("alive":{})";
[[nodiscard]] std::string scene(bool set);
[[nodiscard]] std::string moving(bool is);
[[nodiscard]] std::string clamp(const std::string& lead, bool on,
                                const std::string& point = "TERMINALS");
[[nodiscard]] std::string rigging(bool on, const std::string& point = "eye");
[[nodiscard]] std::string tiedown(bool on, const std::string& place = R"("wheel":"LF")",
                                  const std::string& gear = "s1");
[[nodiscard]] std::string wheels(const std::string& which, const std::string& on);
[[nodiscard]] std::string mode(const std::string& word);
[[nodiscard]] std::string gap(const std::string& channel);
/// Readings of a signal, one a second from `from` on: so many times each value. Numbers go on from
/// the source's lines there are.
void add_samples(Lines& lines, const std::string& source, const std::string& signal, double from,
                 const std::vector<std::pair<double, int>>& values);

/// A job of these lines under a procedure with these phases (and other fields) and these register
/// files.
struct Job {
  explicit Job(Lines lines, const std::string& phases = "", const std::string& files = "",
               const std::string& job = "j");
  [[nodiscard]] std::string fact(const std::string& name);
  /// The stays of a phase: "5-20", "5-20..." where it did not close.
  [[nodiscard]] std::string stays(const std::string& id);
  /// Each event's stamp.
  [[nodiscard]] std::string events(const std::string& name);

  Rulebook rules;
  Lines lines;
  std::unique_ptr<JobState> state;
};

/// "12.5", "-inf" for the beginning, "inf" for ever.
[[nodiscard]] std::string seconds(int64_t us);
/// "12.5", with "-0.1" that it may be earlier, "+0.1" later, "@1(0.2)" by another clock so well
/// known ("@1(?)": not at all), "#3" said by line 3, " measured" or " pictured".
[[nodiscard]] std::string told(const Stamp& stamp, int64_t zero_us = kTen);
/// "F 12.5#3T 14U(no_data)": at first, then each change; "!" where only unknown whether it lasted.
[[nodiscard]] std::string told(const Timeline& timeline, int64_t zero_us = kTen);
/// "0-5 1000" a piece, with " 990..1010" and " sd 12" where there is such, "#3".
[[nodiscard]] std::string told(const Series& series, int64_t zero_us = kTen);
/// "0-5 no_data" a hole.
[[nodiscard]] std::string told(const std::vector<Hole>& holes, int64_t zero_us = kTen);
[[nodiscard]] std::string told(const std::vector<HiddenSpan>& spans, int64_t zero_us = kTen);
/// "10 12 13", "-" for an end that does not exist.
[[nodiscard]] std::string told(const Interval& interval);
/// "operator 10-20 no_data 1 lost", with "/line.pull" a channel and "stated".
[[nodiscard]] std::string told(const SourceGap& gap);
[[nodiscard]] std::string told(const std::vector<SourceGap>& gaps);
/// "operator:1@0 line:2@3.5": who said which when.
[[nodiscard]] std::string told(const JobLines& lines);

}  // namespace fairlead::judge
