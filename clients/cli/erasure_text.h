// What an erasure did, or would do, for people.
//
// Threads: one.
#pragma once

#include "fairlead/v1/retention_service.pb.h"

namespace fairlead::cli {

void print_erasure(const v1::Erasure& erasure, bool dry_run);

}  // namespace fairlead::cli
