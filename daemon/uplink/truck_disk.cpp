#include "daemon/uplink/truck_disk.h"

#include <fmt/format.h>

#include "daemon/base/key_file.h"
#include "daemon/ledger/sqlite/open.h"
#include "daemon/record/leaf.h"

namespace fairlead::uplink {
namespace {

constexpr size_t kLongestFile = 256 * 1024;
}  // namespace

Result<std::unique_ptr<TruckDisk>> TruckDisk::open(const std::filesystem::path& data,
                                                   const std::string& name) {
  std::unique_ptr<TruckDisk> disk(new TruckDisk());
  disk->data_ = data;
  disk->name_ = name;
  if (auto ok = disk->make_identity(); !ok) return std::unexpected(ok.error());
  if (auto ok = disk->read_enrolment(); !ok) return std::unexpected(ok.error());
  if (disk->enrolment_) {
    if (auto ok = disk->open_ledger(); !ok) return std::unexpected(ok.error());
    const auto begun = disk->recoveries();
    if (!begun) return std::unexpected(begun.error());
    for (const v1::Recovery& recovery : *begun) {
      if (!recovery.opened() || recovery.said()) continue;
      if (auto ok = disk->open_epoch(recovery); !ok) return std::unexpected(ok.error());
    }
  }
  return disk;
}

Status TruckDisk::make_identity() {
  auto key = load_or_make_key(data_ / "device.key");
  if (!key) return std::unexpected(key.error());
  key_ = std::make_shared<const SecretKey>(std::move(*key));
  auto id = read_small_file(data_ / "device.id", 64);
  if (!id && id.error().code != Code::kNotFound) return std::unexpected(id.error());
  if (!id) {
    id = hex_of(random_array<16>());
    if (auto ok = write_private_file(data_ / "device.id", *id); !ok) return ok;
  }
  const auto bytes = array_of_hex<16>(*id, "device.id");
  if (!bytes) return fail_at((data_ / "device.id").string() + ": ", bytes.error());
  device_id_ = *bytes;
  const std::string line = fmt::format("fairlead-device-v1 {} {} {}\n", name_, hex_of(device_id_),
                                       base64_of(view_of(key_->public_key().bytes)));
  return write_private_file(data_ / "device.pub", line);
}

Status TruckDisk::read_enrolment() {
  const auto bytes = read_small_file(data_ / "enrolment", kLongestFile);
  if (!bytes && bytes.error().code == Code::kNotFound) return {};
  if (!bytes) return std::unexpected(bytes.error());
  v1::Enrolment enrolment;
  if (!enrolment.ParseFromString(*bytes) || enrolment.leaf_data().size() != record::kLeafDataSize) {
    return fail(Code::kCorrupt,
                (data_ / "enrolment").string() +
                    ": cannot be read; put it back from a copy of this truck's folder");
  }
  genesis_ = record::genesis_of(sha256({std::string_view("\0", 1), enrolment.leaf_data()}));
  enrolment_ = std::move(enrolment);
  return {};
}

Status TruckDisk::open_ledger() {
  ledger::Options options;
  options.folder = data_ / "ledger";
  options.ledger_id = record::ledger_id_of(enrolment_->origin());
  auto opened = ledger::open_sqlite(options);
  if (!opened) return std::unexpected(opened.error());
  if (auto ok = (*opened)->start_chain({device_id_, 1, key_->public_key(), genesis_}); !ok)
    return ok;
  if (auto ok = read_keepsakes(**opened); !ok) return ok;
  ledger_ = std::move(*opened);
  return {};
}

ledger::Ledger* TruckDisk::ledger() const {
  const std::lock_guard lock(mutex_);
  return ledger_.get();
}

record::Checkpoint TruckDisk::newest_head() const {
  const std::lock_guard lock(mutex_);
  return head_;
}

Result<Tip> TruckDisk::own_tip() const {
  const ledger::Ledger* own = ledger();
  if (own == nullptr) return Tip{};
  const auto mark = own->watermark(device_id_);
  if (!mark) return std::unexpected(mark.error());
  return Tip{mark->epoch, mark->seq, mark->chain};
}

Result<Tip> TruckDisk::tip() { return own_tip(); }

Result<v1::Hello> TruckDisk::hello() {
  const auto tip = own_tip();
  if (!tip) return std::unexpected(tip.error());
  v1::Hello hello;
  hello.set_device_id(string_of(device_id_));
  hello.set_name(name_);
  hello.set_public_key(string_of(key_->public_key().bytes));
  hello.set_session(session_);
  {
    const std::lock_guard lock(mutex_);
    hello.set_copy(copy_.mark());
    hello.set_seen_note(head_note_);
  }
  hello.set_epoch(tip->epoch);
  hello.set_last_seq(tip->seq);
  if (tip->epoch > 0) hello.set_last_chain(string_of(tip->chain));
  std::string text = "fairlead/hello/v1\n" + hello.device_id();
  append_be(text, hello.epoch());
  append_be(text, uint64_t{hello.last_seq()});
  hello.set_signature(string_of(key_->sign(text + hello.last_chain()).bytes));
  return hello;
}

Result<std::vector<OwnEntry>> TruckDisk::entries_from(uint32_t epoch, uint64_t seq, size_t count) {
  std::vector<OwnEntry> out;
  const ledger::Ledger* own = ledger();
  if (own == nullptr) return out;
  auto stored = own->device_entries(device_id_, epoch, seq, count, true);
  if (!stored) return std::unexpected(stored.error());
  for (ledger::StoredEntry& entry : *stored) {
    out.push_back({entry.header().seq, entry.entry, entry.salt, std::move(entry.body),
                   entry.body_state == ledger::BodyState::kErased});
  }
  return out;
}

Result<std::optional<v1::Enrolment>> TruckDisk::enrolment() {
  const std::lock_guard lock(mutex_);
  return enrolment_;
}

Result<record::Checkpoint> TruckDisk::seen_head() { return newest_head(); }

}  // namespace fairlead::uplink
