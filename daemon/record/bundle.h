// The bundle: a part of the record that can be checked with no network and no database.
//
// "FLB1", then sections {u8 type, u64 length, bytes}, ascending, each at most once, META, HEADS,
// ROSTER, ENTRIES and SEAL always; integers big-endian:
//   1 META         BundleMeta (record.proto)
//   2 HEADS        {u32 len, note}*, checkpoint sizes ascending, the last covers every entry
//   3 ROSTER       note
//   4 ENTRIES      {u64 leaf, i64 recv_us, entry 288, u8 n, n x 32 path, u8 form, [salt 16, u32
//   len,
//                  body]}*, leaves ascending; form 0 bare, 1 body, 2 erased
//   5 CONSISTENCY  {u64 size, u8 n, n x 32}*, sizes ascending: proof from `size` to the last head
//   6 FILES        {sha 32, u32 len, bytes}*, sha ascending
//   7 ATTACHMENTS  same form
//   8 STAMPS       {u32 len, RFC 3161 token}*
//   9 SEAL         note "<origin>/bundle\n<hex SHA-256 of all bytes before this section>\n" signed
//   by
//                  the log key
// The reader knows every cap before it allocates and keeps views into the caller's bytes, which
// must outlive it (the verifier maps the file). Threads: pure functions; values.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/record/commitment.h"
#include "daemon/record/entry.h"
#include "daemon/record/note.h"

namespace fairlead::record {

inline constexpr uint64_t kMaxBundleSize = uint64_t{4} << 30;
inline constexpr size_t kMaxBundleEntries = 1'000'000;
inline constexpr size_t kMaxBundleHeads = 10'000;
inline constexpr size_t kMaxBundleFiles = 100'000;

enum class BodyForm : uint8_t { kBare = 0, kBody = 1, kErased = 2 };

struct BundleEntry {
  uint64_t leaf = 0;
  int64_t recv_us = 0;
  EntryBytes entry{};
  std::vector<Hash> path;  // Inclusion in the last head.
  BodyForm form = BodyForm::kBare;
  Salt salt{};            // Only with kBody.
  std::string_view body;  // Only with kBody.
};

struct BundleConsistency {
  uint64_t size = 0;
  std::vector<Hash> proof;
};

struct BundleFile {
  Hash sha256{};
  std::string_view bytes;
};

struct Bundle {
  std::string_view meta;
  std::vector<std::string_view> heads;
  std::string_view roster;
  std::vector<BundleEntry> entries;
  std::vector<BundleConsistency> consistency;
  std::vector<BundleFile> files;
  std::vector<BundleFile> attachments;
  std::vector<std::string_view> stamps;
  std::string_view seal;         // Read only; write_bundle makes it.
  std::string_view sealed_part;  // Read only: all bytes before the SEAL section.
};

/// Sorts nothing: gives back what it was given. Errors: kBadInput for what read_bundle would
/// refuse.
[[nodiscard]] Result<std::string> write_bundle(const Bundle& bundle, std::string_view origin,
                                               const VerifierKey& log, const SecretKey& secret);

/// The text the seal signs.
[[nodiscard]] std::string seal_text(std::string_view origin, std::string_view sealed_part);

/// Form only, no cryptography. Errors: kBadInput naming the section and record.
[[nodiscard]] Result<Bundle> read_bundle(std::string_view bytes);

}  // namespace fairlead::record
