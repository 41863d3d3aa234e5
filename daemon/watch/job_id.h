// A job's id in entry headers, from what its lines call it.
//
// Threads: pure function.
#pragma once

#include <string_view>

#include "daemon/record/entry.h"

namespace fairlead::watch {

/// The 16 bytes of 32 lower-case hex characters, else the first 16 of SHA-256("fairlead/job/v1\n"
/// || name). Zero for an empty name.
[[nodiscard]] record::Id16 job_id_of(std::string_view name);

}  // namespace fairlead::watch
