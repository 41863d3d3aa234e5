// What every function of the room is put to: NaN, infinities, zero, negative, tiny and huge inputs,
// one at a time and in pairs. It refuses, or its answer is in order and its verdict that of its
// margin; never nonsense.
//
// Threads: tests only. Units: the caller's.
#pragma once

#include <functional>
#include <optional>
#include <vector>

#include "daemon/physics/check.h"

namespace fairlead::physics {

/// What a function said: figures and checks; nothing where it refused.
struct Said {
  bool refused = false;
  std::vector<Interval> figures;
  std::vector<Check> checks;
};
[[nodiscard]] Said refusal();
[[nodiscard]] Said figures(std::vector<Interval> found);
[[nodiscard]] Said said(const Result<Interval>& figure);
[[nodiscard]] Said said(const Result<Check>& check);
[[nodiscard]] Said said(const Result<std::vector<Check>>& checks);
[[nodiscard]] Said said(const std::optional<double>& figure);

using Inputs = std::vector<double>;
[[nodiscard]] inline Interval x(const Inputs& in, size_t i) { return exactly(in[i]); }

struct Case {
  const char* name;
  Inputs good;  // Accepted.
  std::function<Said(const Inputs&)> call;
};
/// Fails the test at the first sight of nonsense, naming function and inputs.
void put_to_all(const std::vector<Case>& cases);

}  // namespace fairlead::physics
