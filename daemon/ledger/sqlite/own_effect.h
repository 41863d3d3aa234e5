// What an entry made here does to the ledger besides standing in it: ENROL and RESTORE open chains,
// ROTATE changes a key, REGISTER brings a file.
//
// Threads: the writer's thread only.
#pragma once

#include <variant>

#include "daemon/ledger/sqlite/chains.h"

namespace fairlead::ledger {

struct OpensChain {
  Id16 device_id{};
  uint32_t epoch = 1;
  PublicKey key;
};
struct ChangesKey {
  Id16 device_id{};
  PublicKey key;
};
struct BringsFile {
  std::string bytes;
};
using OwnEffect = std::variant<std::monostate, OpensChain, ChangesKey, BringsFile>;

/// Reads the body and checks it against the chains there are, before anything is stored. Errors:
/// kBadInput, "field: what; what to do".
[[nodiscard]] Result<OwnEffect> own_effect(Kind kind, std::string_view body, Chains& chains);

}  // namespace fairlead::ledger
