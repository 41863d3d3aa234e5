#include "daemon/record/leaf.h"

#include "daemon/record/merkle.h"

namespace fairlead::record {

ByteArray<kLeafDataSize> leaf_data_of(const EntryBytes& entry, int64_t recv_us) {
  ByteArray<kLeafDataSize> out;
  out[0] = 0x01;
  std::memcpy(&out[1], entry.data(), kEntrySize);
  put_be(&out[1 + kEntrySize], static_cast<uint64_t>(recv_us));
  return out;
}

Hash leaf_hash_of(const EntryBytes& entry, int64_t recv_us) {
  return merkle_leaf_hash(view_of(leaf_data_of(entry, recv_us)));
}

}  // namespace fairlead::record
