// Section numbers and checks that the bundle's writer and reader share.
//
// Threads: pure functions.
#pragma once

#include <string_view>

#include "daemon/record/bundle.h"

namespace fairlead::record {

inline constexpr std::string_view kBundleMagic = "FLB1";

enum class Section : uint8_t {
  kMeta = 1,
  kHeads = 2,
  kRoster = 3,
  kEntries = 4,
  kConsistency = 5,
  kFiles = 6,
  kAttachments = 7,
  kStamps = 8,
  kSeal = 9,
};

[[nodiscard]] const char* section_name(Section section);

}  // namespace fairlead::record
