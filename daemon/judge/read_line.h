// A line as judging reads it: once. Its names become numbers, its time a number, and what it says a
// hash, so that neither a re-judging nor a rule goes back to the text.
//
// Threads: a LineReader belongs to one thread; what it has read stays as it is.
#pragma once

#include <cstdint>
#include <deque>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/crypto.h"
#include "fairlead/v1/observation.pb.h"

namespace fairlead::judge {

constexpr int kNoName = -1;

/// What of one line decides where it stands, and what it reads where it is a sample.
struct ReadLine {
  const v1::Observation* observation = nullptr;  // Null: a sample of which all is said here.
  int64_t time_us = 0;                           // As shown; 0 where it shows none.
  int64_t stated_u_us = -1;  // Its stated time uncertainty, rounded up; -1: none.
  Hash leaf{};               // RFC 6962 leaf of what it says, without when it came in.
  double value = 0;          // Of `quantity`, in SI.
  int source = kNoName, clock = kNoName, job = kNoName;
  int quantity = kNoName;  // What it is a reading of; kNoName: of nothing.
  uint32_t seq = 0;
  v1::Observation::KindCase kind = v1::Observation::KIND_NOT_SET;
  bool good = true;  // Quality is GOOD or not stated.
};

/// Names and their numbers, in the order they were first met.
class Names {
 public:
  int number(std::string_view name);
  [[nodiscard]] const std::string& name(int number) const {
    return names_[static_cast<size_t>(number)];
  }
  /// kNoName when nobody has named it.
  [[nodiscard]] int known(std::string_view name) const;
  [[nodiscard]] size_t size() const { return names_.size(); }

 private:
  std::deque<std::string> names_;
  std::map<std::string_view, int> numbers_;
  int last_ = kNoName;  // Neighbouring lines mostly say the same.
};

class LineReader {
 public:
  [[nodiscard]] ReadLine read(const v1::Observation& line);
  /// Lets go of a sample's observation where what was read gives it back byte for byte.
  [[nodiscard]] bool let_go(ReadLine& line);

  Names sources, clocks, jobs, quantities;

 private:
  [[nodiscard]] v1::Observation sample_of(const ReadLine& line) const;

  std::vector<int> own_clock_;  // By source: the clock of lines that name none.
  std::string bytes_;           // Room for one line's serialised form.
};

[[nodiscard]] inline int64_t ms_to_us_up(double ms) {
  return static_cast<int64_t>(ms * 1000.0 + 0.999999);
}

/// What a line says, serialised, without when it came in: equal for exact duplicates.
[[nodiscard]] std::string content_of(const v1::Observation& line);

}  // namespace fairlead::judge
