#include "daemon/watch/cosigned_heads.h"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/record/checkpoint.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::watch {
namespace {

using Head = CosignedHeads::Head;

/// Of two heads, the one `better` prefers; later entries win ties.
template <typename Better, typename Fits>
std::optional<Head> best(const std::vector<Head>& heads, const Fits& fits, const Better& better) {
  const Head* found = nullptr;
  for (const Head& head : heads) {
    if (fits(head) && (found == nullptr || !better(*found, head))) found = &head;
  }
  return found == nullptr ? std::nullopt : std::optional(*found);
}

bool larger(const Head& a, const Head& b) { return a.size > b.size; }

}  // namespace

Status CosignedHeads::load(const ledger::Ledger& ledger, const std::string& origin) {
  constexpr size_t kPage = 256;
  for (uint64_t from = 0;;) {
    const auto page = ledger.entries_of_kind(record::Kind::kHeadCosigned, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const ledger::StoredEntry& entry : *page) {
      v1::HeadCosignedBody body;
      if (!body.ParseFromString(entry.body)) {
        return fail(Code::kCorrupt,
                    fmt::format("leaf {}: the cosigned head cannot be read", entry.leaf));
      }
      if (auto ok = add(body.note(), origin, entry.leaf); !ok) {
        return fail_at(fmt::format("leaf {}: ", entry.leaf), ok.error());
      }
    }
    if (page->size() < kPage) return {};
    from = page->back().leaf + 1;
  }
}

Status CosignedHeads::add(const std::string& bytes, const std::string& origin, uint64_t leaf) {
  const auto note = record::parse_note(bytes);
  if (!note) return fail(Code::kCorrupt, note.error().message);
  const auto checkpoint = record::parse_checkpoint(note->text);
  if (!checkpoint) return fail(Code::kCorrupt, checkpoint.error().message);
  if (checkpoint->origin != origin) return {};
  Head head{checkpoint->size, leaf, {}};
  for (const record::NoteSignature& line : note->signatures) {
    // A cosignature is a time and 64 bytes; the log's own signature is 64.
    if (line.bytes.size() != 72) continue;
    const auto at_s = get_be<uint64_t>(reinterpret_cast<const uint8_t*>(line.bytes.data()));
    head.cosignatures.push_back({line.name, at_s});
  }
  const std::lock_guard lock(mutex_);
  heads_.push_back(std::move(head));
  return {};
}

std::optional<Head> CosignedHeads::newest() const {
  const std::lock_guard lock(mutex_);
  return best(heads_, [](const Head&) { return true; }, larger);
}

std::optional<Head> CosignedHeads::of_size(uint64_t size) const {
  const std::lock_guard lock(mutex_);
  return best(heads_, [&](const Head& head) { return head.size == size; }, larger);
}

std::optional<Head> CosignedHeads::first_covering(uint64_t leaf) const {
  const std::lock_guard lock(mutex_);
  return best(
      heads_, [&](const Head& head) { return head.size > leaf; },
      [](const Head& a, const Head& b) { return a.size < b.size; });
}

std::optional<Head> CosignedHeads::entered_before(uint64_t size) const {
  const std::lock_guard lock(mutex_);
  return best(
      heads_, [&](const Head& head) { return head.entry_leaf < size; },
      [](const Head& a, const Head& b) { return a.entry_leaf > b.entry_leaf; });
}

std::optional<Head> CosignedHeads::newest_by(const std::string& by) const {
  const std::lock_guard lock(mutex_);
  return best(
      heads_,
      [&](const Head& head) {
        return std::ranges::any_of(head.cosignatures,
                                   [&](const Cosignature& one) { return one.by == by; });
      },
      larger);
}

record::Bracket CosignedHeads::bracket(uint64_t seen_size, uint64_t leaf, size_t threshold) const {
  std::vector<record::CosignedHead> heads;
  {
    const std::lock_guard lock(mutex_);
    for (const Head& head : heads_) {
      record::CosignedHead one{head.size, head.entry_leaf, {}};
      for (const Cosignature& cosignature : head.cosignatures) {
        one.times_s.push_back(cosignature.at_s);
      }
      heads.push_back(std::move(one));
    }
  }
  return record::bracket_of(heads, seen_size, leaf, threshold);
}

Result<std::string> CosignedHeads::note_of(const ledger::Ledger& ledger, const Head& head) {
  const auto entry = ledger.entry(head.entry_leaf);
  if (!entry) return std::unexpected(entry.error());
  v1::HeadCosignedBody body;
  if (!body.ParseFromString(entry->body)) {
    return fail(Code::kCorrupt,
                fmt::format("leaf {}: the cosigned head cannot be read", head.entry_leaf));
  }
  return body.note();
}

}  // namespace fairlead::watch
