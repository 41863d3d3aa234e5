#include "daemon/ledger/head_file.h"

#include "daemon/base/key_file.h"
#include "daemon/record/checkpoint.h"

namespace fairlead::ledger {
namespace {

constexpr size_t kLongest = 4'096;

}  // namespace

Result<std::optional<SignedHead>> load_head(const std::filesystem::path& file,
                                            const record::VerifierKey& log) {
  auto bytes = read_small_file(file, kLongest);
  if (!bytes && bytes.error().code == Code::kNotFound) return std::nullopt;
  if (!bytes) return std::unexpected(bytes.error());
  const auto damaged = [&](const Error& error) {
    return fail(Code::kCorrupt, file.string() + ": is no head of this log (" + error.message +
                                    "); restore it from a good copy");
  };
  const auto note = record::parse_note(*bytes);
  if (!note) return damaged(note.error());
  const auto checkpoint = record::open_checkpoint(*note, log);
  if (!checkpoint) return damaged(checkpoint.error());
  return SignedHead{checkpoint->size, checkpoint->root, std::move(*bytes)};
}

Status save_head(const std::filesystem::path& file, const SignedHead& head) {
  return write_private_file(file, head.note);
}

}  // namespace fairlead::ledger
