// Makes a job's lines from a recorded trace of the fleet: another day, truck, operator and name.
//
// Threads: a Trace is immutable after load. Units: microseconds since 1970 UTC.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "clients/sim/year/plan.h"
#include "daemon/base/result.h"
#include "fairlead/v1/observation.pb.h"

namespace fairlead::sim {

class Trace {
 public:
  /// The variant's trace as driven by that truck. Errors: of the file, kBadInput naming the line.
  [[nodiscard]] static Result<Trace> load(const std::filesystem::path& traces,
                                          const Variant& variant, int truck);
  /// Lines in the order of time.
  [[nodiscard]] std::vector<v1::Observation> play(const std::string& job, int64_t opened_us,
                                                  int operator_) const;
  /// From opening to closing.
  [[nodiscard]] int64_t length_us() const { return offsets_.back(); }

 private:
  std::vector<v1::Observation> lines_;
  std::vector<int64_t> offsets_;
};

[[nodiscard]] std::string truck_name(int truck);   // "OW-04"
[[nodiscard]] std::string card_of(int operator_);  // 32 hex characters

}  // namespace fairlead::sim
