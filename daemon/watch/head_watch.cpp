#include "daemon/watch/head_watch.h"

#include <fmt/format.h>

#include "daemon/base/key_file.h"
#include "daemon/record/checkpoint.h"
#include "daemon/record/generation.h"
#include "daemon/record/leaf.h"

namespace fairlead::watch {
namespace {

constexpr size_t kLongestFile = 64 * 1024;
constexpr const char* kFile = "larger_head.note";
constexpr const char* kWayBack =
    "stop this base and put its newest disk back, or declare a new generation with fairleadd "
    "--new-generation (docs/restore.md)";

Result<record::Checkpoint> read_head(std::string_view bytes) {
  const auto note = record::parse_note(bytes);
  if (!note) return std::unexpected(note.error());
  return record::parse_checkpoint(note->text);
}

bool signed_by(std::string_view bytes, const record::VerifierKey& log) {
  const auto note = record::parse_note(bytes);
  return note && record::open_checkpoint(*note, log);
}

}  // namespace

// First line: how far the base had signed; then the note.
Result<std::optional<LargerHead>> load_larger_head(const std::filesystem::path& data) {
  const auto bytes = read_small_file(data / kFile, kLongestFile);
  if (!bytes && bytes.error().code == Code::kNotFound) return std::nullopt;
  if (!bytes) return std::unexpected(bytes.error());
  const size_t line = bytes->find('\n');
  LargerHead larger;
  larger.kept_size = std::strtoull(bytes->c_str(), nullptr, 10);
  larger.note = line == std::string::npos ? "" : bytes->substr(line + 1);
  if (!read_head(larger.note)) {
    return fail(
        Code::kCorrupt,
        (data / kFile).string() + ": is no signed head; restore it from a good copy or remove it");
  }
  return larger;
}

Result<std::unique_ptr<HeadWatch>> HeadWatch::open(ledger::Ledger& ledger,
                                                   const record::VerifierKey& log,
                                                   const std::filesystem::path& data,
                                                   const HeadWatchOptions& options) {
  std::unique_ptr<HeadWatch> watch(new HeadWatch(ledger, log, data));
  if (const auto head = ledger.head()) watch->size_at_start_ = head->size;
  if (auto ok = watch->load_ancestors(); !ok) return std::unexpected(ok.error());
  if (auto ok = watch->take_up(options); !ok) return std::unexpected(ok.error());
  return watch;
}

Status HeadWatch::load_ancestors() {
  constexpr size_t kPage = 1'000;
  for (uint64_t from = 0;;) {
    const auto page = ledger_.entries_of_kind(record::Kind::kRestore, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const ledger::StoredEntry& entry : *page) {
      v1::RestoreBody body;
      if (!body.ParseFromString(entry.body) || !body.device_id().empty()) continue;
      Ancestor& ancestor = ancestors_.emplace_back();
      ancestor.origin = body.old_origin();
      ancestor.ledger_id = record::ledger_id_of(body.old_origin());
      ancestor.kept_size = body.kept_size();
      ancestor.seam.set_leaf_index(entry.leaf);
      ancestor.seam.set_leaf_data(string_of(record::leaf_data_of(entry.entry, entry.recv_us)));
      ancestor.seam.set_salt(string_of(entry.salt));
      ancestor.seam.set_body(entry.body);
    }
    if (page->size() < kPage) return {};
    from = page->back().leaf + 1;
  }
}

Result<bool> HeadWatch::has_trucks() const {
  constexpr size_t kPage = 1'000;
  for (uint64_t from = 0;;) {
    const auto page = ledger_.entries_of_kind(record::Kind::kEnrol, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const ledger::StoredEntry& entry : *page) {
      v1::EnrolBody body;
      if (body.ParseFromString(entry.body) && body.kind() != v1::EnrolBody::IMPORT) return true;
    }
    if (page->size() < kPage) return false;
    from = page->back().leaf + 1;
  }
}

Status HeadWatch::take_up(const HeadWatchOptions& options) {
  const auto larger = load_larger_head(data_);
  if (!larger) return std::unexpected(larger.error());
  if (larger->has_value()) {
    const auto head = read_head((*larger)->note);
    const auto root =
        head->size <= ledger_.size() ? ledger_.root_at(head->size) : Result<Hash>(Hash{});
    if (!root) return std::unexpected(root.error());
    if (head->origin == log_.name && *root != head->root) {
      const std::string words = fmt::format(
          "this base is an older copy of itself: {} entries had "
          "been signed; {}",
          head->size, kWayBack);
      const std::lock_guard lock(mutex_);
      frozen_ = words;
      ledger_.freeze(words);
      return {};
    }
    // The newest disk is back, or a new generation was declared.
    std::error_code ignored;
    std::filesystem::remove(data_ / kFile, ignored);
  }
  const auto trucks = has_trucks();
  if (!trucks) return std::unexpected(trucks.error());
  if (options.alone || (!*trucks && !options.countersigned)) clear();
  return {};
}

uint64_t HeadWatch::size_in_tree(uint64_t size, std::string_view note) const {
  const auto head = read_head(note);
  if (!head || head->origin == log_.name) return size;
  for (const Ancestor& ancestor : ancestors_) {
    if (ancestor.origin == head->origin) return size <= ancestor.kept_size ? size : 0;
  }
  return 0;
}

void HeadWatch::clear() {
  const std::lock_guard lock(mutex_);
  waiting_ = false;
  ledger_.allow_signing();
}

std::string HeadWatch::frozen() const {
  const std::lock_guard lock(mutex_);
  return frozen_;
}

bool HeadWatch::waiting() const {
  const std::lock_guard lock(mutex_);
  return waiting_ && frozen_.empty();
}

Status HeadWatch::freeze(const ShownHead& head, const std::string& words) {
  // The numbers alone anybody could make up: only this base's own signature stops it.
  if (!signed_by(head.note, log_)) return fail(Code::kConflict, words);
  const std::lock_guard lock(mutex_);
  if (frozen_.empty()) {
    frozen_ = words;
    ledger_.freeze(words);
    const auto kept = write_private_file(
        data_ / kFile, fmt::format("{}\n{}", size_at_start_, std::string(head.note)));
    if (!kept) return kept;
  }
  return fail(Code::kConflict, frozen_);
}

Status HeadWatch::show_own(const ShownHead& head) {
  const uint64_t size = ledger_.size();
  if (head.size > size) {
    return freeze(head, fmt::format("{} has seen {} entries of this ledger, which holds {}: this "
                                    "base was restored from an older copy; {}",
                                    head.who, head.size, size, kWayBack));
  }
  const auto root = ledger_.root_at(head.size);
  if (!root) return std::unexpected(root.error());
  if (head.root != view_of(*root)) {
    return freeze(head, fmt::format("{} has seen another head of this ledger at {} entries: this "
                                    "base was restored from an older copy and went on, or its "
                                    "record was rewritten; {}",
                                    head.who, head.size, kWayBack));
  }
  clear();
  return {};
}

Status HeadWatch::show_older(const Ancestor& ancestor, const ShownHead& head) {
  if (head.size <= ancestor.kept_size) {
    const auto root = ledger_.root_at(head.size);
    if (!root) return std::unexpected(root.error());
    if (head.root != view_of(*root)) {
      return fail(Code::kConflict,
                  fmt::format("{} has seen another head of {} at {} entries; check both disks",
                              head.who, ancestor.origin, head.size));
    }
  }
  clear();
  return {};
}

Status HeadWatch::show(const ShownHead& head) {
  if (const std::string words = frozen(); !words.empty()) return fail(Code::kConflict, words);
  if (head.size == 0) {
    clear();
    return {};
  }
  if (head.note.empty()) return show_own(head);
  const auto checkpoint = read_head(head.note);
  if (!checkpoint || checkpoint->size != head.size || view_of(checkpoint->root) != head.root)
    return show_own({head.size, head.root, {}, head.who});  // The note is of another head.
  if (checkpoint->origin == log_.name) return show_own(head);
  for (const Ancestor& ancestor : ancestors_) {
    if (ancestor.origin == checkpoint->origin) return show_older(ancestor, head);
  }
  return fail(
      Code::kConflict,
      fmt::format("{} has seen heads of '{}', which is not this ledger nor one it continues",
                  head.who, checkpoint->origin));
}

}  // namespace fairlead::watch
