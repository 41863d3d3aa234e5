// Lines fed from outside into a recorder, on a truck and at a base.
//
// Threads: any but a gRPC reaction: waits for the disk.
#pragma once

#include "daemon/watch/recorder.h"
#include "fairlead/v1/feed_service.pb.h"

namespace fairlead::desk {

inline constexpr int kMostFedLines = 2'000;
inline constexpr size_t kMostFedBytes = size_t{4} << 20;

/// Takes the good lines and names the bad ones ("name:line: field: what; what to do"). Errors:
/// kBadInput for too much at once, kIo.
[[nodiscard]] Result<v1::FeedLinesResponse> feed_lines(watch::Recorder& recorder,
                                                       const v1::FeedLinesRequest& request);

}  // namespace fairlead::desk
