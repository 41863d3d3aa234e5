#include "daemon/uplink/recovery.h"

#include <fmt/format.h>

#include <algorithm>
#include <tuple>

#include "fairlead/v1/record.pb.h"

namespace fairlead::uplink {
namespace {

bool after(const v1::Place& a, const v1::Place& b) {
  return std::tuple(a.epoch(), a.seq()) > std::tuple(b.epoch(), b.seq());
}

// The entry as it is to be brought in; of one that was brought in before, what is inside it.
Result<v1::RecoveredBody> wrapped(const OwnEntry& own, const record::EntryHeader& header) {
  v1::RecoveredBody body;
  if (header.kind == record::Kind::kRecovered) {
    if (!own.erased && body.ParseFromString(own.body)) return body;
    body.Clear();
  }
  body.set_entry(string_of(own.entry));
  if (own.erased) return body;
  body.set_salt(string_of(own.salt));
  body.set_body(own.body);
  // The recorder leaves room for this; what an older program wrote may be too long.
  if (body.ByteSizeLong() > record::kMaxBodySize) {
    body.clear_salt();
    body.clear_body();
  }
  return body;
}

}  // namespace

Hash recovered_id(std::string_view old_entry) { return sha256(old_entry); }

Result<Saying> unknown_span(const v1::Recovery& recovery, int64_t last_known_us, int64_t now_us) {
  v1::RestoreBody restore;
  if (!restore.ParseFromString(recovery.restore().body())) {
    return fail(Code::kCorrupt, "the entry that opened this epoch cannot be read");
  }
  v1::GapBody gap;
  gap.set_channel("record");
  gap.set_cause(fmt::format(
      "this truck's disk was put back to an older state. Of its record before, entries up to {} of "
      "epoch {} are at the base and those found on this disk follow here; whether anything else "
      "was "
      "recorded until now nobody knows",
      restore.acked_seq(), restore.old_epoch()));
  gap.set_from_us(std::min(last_known_us, now_us));
  gap.set_until_us(now_us);
  for (const v1::Place& place : recovery.lost_body()) {
    gap.add_lost_body_epoch(place.epoch());
    gap.add_lost_body_seq(place.seq());
  }
  return Saying{record::Kind::kGap, {}, gap.SerializeAsString()};
}

std::vector<std::string> lost_bodies(uint32_t epoch, const std::vector<uint64_t>& seqs,
                                     int64_t now_us) {
  constexpr size_t kMost = 4'000;  // An entry's body holds 61,440 bytes.
  std::vector<std::string> out;
  for (size_t from = 0; from < seqs.size(); from += kMost) {
    v1::GapBody gap;
    gap.set_channel("record");
    gap.set_cause(
        "the base has lost what it had given a receipt for; it has these entries again, but their "
        "bodies this truck had freed by then");
    gap.set_from_us(now_us);
    gap.set_until_us(now_us);
    for (size_t i = from; i < std::min(seqs.size(), from + kMost); ++i) {
      gap.add_lost_body_epoch(epoch);
      gap.add_lost_body_seq(seqs[i]);
    }
    out.push_back(gap.SerializeAsString());
  }
  return out;
}

Status bring_in(UplinkStore& store, const v1::Recovery& recovery, const Recovered& done,
                const std::function<Status(const Saying&)>& say) {
  constexpr size_t kPage = 256;
  Recovered said = done;
  uint64_t from = recovery.common().seq() + 1;
  for (uint32_t epoch = recovery.common().epoch(); epoch < recovery.epoch(); ++epoch, from = 1) {
    for (;;) {
      const auto page = store.entries_from(epoch, from, kPage);
      if (!page) return std::unexpected(page.error());
      for (const OwnEntry& own : *page) {
        from = own.seq + 1;
        const auto header = record::decode_header(own.entry);
        if (!header) return std::unexpected(header.error());
        const auto body = wrapped(own, *header);
        if (!body) return std::unexpected(body.error());
        if (!said.insert(recovered_id(body->entry())).second) continue;
        if (auto ok = say({record::Kind::kRecovered, header->job_id, body->SerializeAsString()});
            !ok)
          return ok;
      }
      if (page->size() < kPage) break;
    }
  }
  return {};
}

bool is_shared(const std::vector<v1::Recovery>& recoveries, const v1::Place& place) {
  return std::ranges::none_of(recoveries, [&](const v1::Recovery& recovery) {
    return place.epoch() < recovery.epoch() && after(place, recovery.common());
  });
}

Result<uint64_t> last_seq_of(UplinkStore& store, uint32_t epoch) {
  uint64_t low = 0, high = 1;  // There is an entry at low or low is 0.
  const auto reaches = [&](uint64_t seq) -> Result<bool> {
    const auto found = store.entries_from(epoch, seq, 1);
    if (!found) return std::unexpected(found.error());
    return !found->empty();
  };
  for (;; high *= 2) {
    const auto there = reaches(high);
    if (!there) return std::unexpected(there.error());
    if (!*there) break;
    low = high;
  }
  while (high - low > 1) {
    const uint64_t middle = low + (high - low) / 2;
    const auto there = reaches(middle);
    if (!there) return std::unexpected(there.error());
    (*there ? low : high) = middle;
  }
  return low;
}

Result<Hash> chain_at(UplinkStore& store, uint32_t epoch, uint64_t seq) {
  const auto found = store.entries_from(epoch, seq, 1);
  if (!found) return std::unexpected(found.error());
  if (found->empty() || found->front().seq != seq)
    return fail(Code::kNotFound, fmt::format("no own entry {} of epoch {}", seq, epoch));
  return record::chain_of(found->front().entry);
}

}  // namespace fairlead::uplink
