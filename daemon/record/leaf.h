// A leaf of the base's tree: 0x01 || entry (288) || recv_us (i64, big-endian), 297 bytes, hashed as
// RFC 6962 2.1 says. recv_us is when the base took the entry in, Unix microseconds.
//
// Threads: pure functions.
#pragma once

#include "daemon/record/entry.h"

namespace fairlead::record {

inline constexpr size_t kLeafDataSize = 297;

[[nodiscard]] ByteArray<kLeafDataSize> leaf_data_of(const EntryBytes& entry, int64_t recv_us);
[[nodiscard]] Hash leaf_hash_of(const EntryBytes& entry, int64_t recv_us);

}  // namespace fairlead::record
