// What the ingest benchmark feeds in, made before the clock runs: signed entries of several
// devices, and the same numbers as plain chunks.
//
// Threads: one at a time.
#pragma once

#include <string>
#include <vector>

#include "daemon/ledger/ledger.h"
#include "daemon/record/packer.h"
#include "tests/bench/chunk_floor.h"

namespace fairlead::bench {

/// One job's entry bodies as its device would pack them, and the device's number.
struct PackedJob {
  uint8_t device = 0;
  ledger::Id16 job_id{};
  std::vector<record::PackedBody> bodies;
};

struct Work {
  std::vector<PackedJob> jobs;
  std::vector<Chunk> chunks;  // The same numbers.
  size_t entries = 0;
  size_t values = 0;
};

/// Errors: kBadInput when the packer refuses a line.
[[nodiscard]] Result<Work> make_work(const std::vector<v1::Observation>& said, int jobs,
                                     int strip_s);

/// Batches of signed entries, each of one device, in the order of sending.
using Batches = std::vector<std::vector<ledger::SentEntry>>;

/// Enrols the work's devices in a new ledger and signs the work for it.
[[nodiscard]] Result<Batches> enrol_and_sign(ledger::Ledger& ledger, const std::string& origin,
                                             const Work& work);

/// Sends everything as intake does: decodes and checks each body, leaves at most 1,024 entries
/// unanswered; returns how many were acknowledged as stored. Errors: the first one of the ledger.
[[nodiscard]] Result<size_t> ingest(ledger::Ledger& ledger, Batches batches);

}  // namespace fairlead::bench
