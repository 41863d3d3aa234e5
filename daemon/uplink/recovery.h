// What a truck writes at the beginning of an epoch that was opened because its disk had been put
// back: a statement of what nobody knows, then every entry of its own that the base does not hold,
// word for word.
//
// Threads: pure over what it is given.
#pragma once

#include <functional>
#include <set>

#include "daemon/uplink/uplink_store.h"

namespace fairlead::uplink {

/// An entry to be made.
struct Saying {
  record::Kind kind = record::Kind::kGap;
  record::Id16 job{};
  std::string body;
};

/// Digests of entries brought in already, so that bringing in can be taken up again.
using Recovered = std::set<Hash>;
[[nodiscard]] Hash recovered_id(std::string_view old_entry);

/// From the last thing known of the record until now nobody knows whether anything was recorded.
[[nodiscard]] Result<Saying> unknown_span(const v1::Recovery& recovery, int64_t last_known_us,
                                          int64_t now_us);

/// Bodies of GAP entries which say that nobody holds the bodies of these entries any more: the base
/// asks for them again and this truck has freed them.
[[nodiscard]] std::vector<std::string> lost_bodies(uint32_t epoch,
                                                   const std::vector<uint64_t>& seqs,
                                                   int64_t now_us);

/// Calls `say` for every own entry after recovery.common that is not in `done`, in order.
[[nodiscard]] Status bring_in(UplinkStore& store, const v1::Recovery& recovery,
                              const Recovered& done,
                              const std::function<Status(const Saying&)>& say);

/// The base holds this very entry of ours, as far as the recoveries tell.
[[nodiscard]] bool is_shared(const std::vector<v1::Recovery>& recoveries, const v1::Place& place);

/// Last seq of an epoch; 0 = none.
[[nodiscard]] Result<uint64_t> last_seq_of(UplinkStore& store, uint32_t epoch);
/// Chain value at `seq` of an epoch. Errors: kNotFound where there is no such entry.
[[nodiscard]] Result<Hash> chain_at(UplinkStore& store, uint32_t epoch, uint64_t seq);

}  // namespace fairlead::uplink
