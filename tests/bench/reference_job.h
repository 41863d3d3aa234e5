// The reference job of the benchmarks: 25 minutes, line pull at 50 Hz during six pulls (20,000
// values in steps of 5 N), clamp volts at 10 Hz for five minutes (3,000, 1 mV), a GPS tag at 5 Hz
// (7,500 fixes of five values), some forty lines by people: 60,500 values.
//
// Threads: pure functions; the same number gives the same lines.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "daemon/base/result.h"
#include "fairlead/v1/observation.pb.h"

namespace fairlead::bench {

constexpr size_t kValuesAJob = 60'500;
constexpr int64_t kJobLengthUs = 25 * 60 * 1'000'000LL;

/// Lines by people, from the scenario's clean load and unload, squeezed into 25 minutes. Errors:
/// kIo when the traces under `source_folder` are not there.
[[nodiscard]] Result<std::vector<v1::Observation>> said_lines(const std::string& source_folder);

/// All lines of one job in the order of their times, seqs given per source from `first_seq` on.
[[nodiscard]] std::vector<v1::Observation> reference_job(const std::vector<v1::Observation>& said,
                                                         const std::string& job, uint32_t number,
                                                         uint32_t first_seq = 1);

}  // namespace fairlead::bench
