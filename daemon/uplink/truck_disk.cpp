#include "daemon/uplink/truck_disk.h"

#include <fmt/format.h>

#include "daemon/base/key_file.h"
#include "daemon/ledger/sqlite/open.h"
#include "daemon/record/enrolment.h"
#include "daemon/record/leaf.h"
#include "daemon/watch/stamp.h"

namespace fairlead::uplink {
namespace {

constexpr size_t kLongestFile = 256 * 1024;
constexpr int64_t kCodeHoldsUs = 86'400'000'000;  // A day: device.pub may travel on a stick.

}  // namespace

Result<std::unique_ptr<TruckDisk>> TruckDisk::open(const std::filesystem::path& data,
                                                   const std::string& name) {
  std::unique_ptr<TruckDisk> disk(new TruckDisk());
  disk->data_ = data;
  disk->name_ = name;
  if (auto ok = disk->make_identity(); !ok) return std::unexpected(ok.error());
  if (auto ok = disk->load_next_key(); !ok) return std::unexpected(ok.error());
  if (auto ok = disk->read_enrolment(); !ok) return std::unexpected(ok.error());
  if (disk->enrolment_) {
    if (auto ok = disk->open_ledger(); !ok) return std::unexpected(ok.error());
    const auto begun = disk->recoveries();
    if (!begun) return std::unexpected(begun.error());
    for (const v1::Recovery& recovery : *begun) {
      if (!recovery.opened() || recovery.said()) continue;
      if (auto ok = disk->open_epoch(recovery); !ok) return std::unexpected(ok.error());
    }
  } else if (auto ok = disk->make_code(); !ok) {
    return std::unexpected(ok.error());
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
  return {};
}

Status TruckDisk::load_next_key() {
  std::error_code error;
  if (!std::filesystem::exists(data_ / "device.key.next", error)) return {};
  auto key = load_or_make_key(data_ / "device.key.next");
  if (!key) return std::unexpected(key.error());
  next_key_ = std::make_shared<const SecretKey>(std::move(*key));
  return {};
}

v1::KeyChange TruckDisk::key_change() const {
  const std::string statement =
      record::rotate_statement(device_id_, key_->public_key(), next_key_->public_key());
  v1::KeyChange change;
  change.set_old_public_key(string_of(key_->public_key().bytes));
  change.set_new_public_key(string_of(next_key_->public_key().bytes));
  change.set_old_signature(string_of(key_->sign(statement).bytes));
  change.set_new_signature(string_of(next_key_->sign(statement).bytes));
  return change;
}

Status TruckDisk::adopt_next_key() {
  if (ledger_) {
    if (auto ok = ledger_->change_key(device_id_, next_key_->public_key()); !ok) return ok;
  }
  std::error_code error;
  std::filesystem::rename(data_ / "device.key.next", data_ / "device.key", error);
  if (error) return fail(Code::kIo, (data_ / "device.key").string() + ": " + error.message());
  key_ = std::exchange(next_key_, nullptr);
  return {};
}

// The code of an earlier start stays while it holds: somebody may be on the way with device.pub.
Status TruckDisk::make_code() {
  const int64_t now_us = watch::wall_now_us();
  const auto file = data_ / "enrolment.code";
  const auto kept = read_small_file(file, 64);
  const auto line_text = read_small_file(data_ / "device.pub", kLongestFile);
  const auto line = line_text ? record::parse_device_line(*line_text)
                              : Result<record::DeviceLine>(std::unexpected(line_text.error()));
  const auto code = kept ? record::read_code(kept->substr(0, kept->find('\n')))
                         : Result<std::string>(std::unexpected(kept.error()));
  if (code && line && line->name == name_ && line->device_id == device_id_ &&
      line->key == key_->public_key() && now_us < line->until_us &&
      line->until_us <= now_us + kCodeHoldsUs) {
    code_ = {*code, line->until_us};
    return {};
  }
  record::DeviceLine made{name_, device_id_, key_->public_key(), {}, now_us + kCodeHoldsUs};
  code_ = {record::make_code(), made.until_us};
  made.binding = record::bind_code(code_.code, made);
  if (auto ok = write_private_file(file, code_.code + "\n"); !ok) return ok;
  return write_private_file(data_ / "device.pub", record::format_device_line(made));
}

TruckDisk::CabCode TruckDisk::cab_code() {
  const std::lock_guard lock(mutex_);
  if (enrolment_) return {};
  if (watch::wall_now_us() > code_.until_us) (void)make_code();
  return code_;
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
  // A crash while the keys changed: the ledger already goes on under the next one.
  const auto mark = (*opened)->watermark(device_id_);
  if (mark && next_key_ && mark->key == next_key_->public_key()) {
    if (auto ok = adopt_next_key(); !ok) return ok;
  }
  if (!mark) {
    if (auto ok = (*opened)->start_chain({device_id_, 1, key_->public_key(), genesis_}); !ok)
      return ok;
  }
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
    held_epoch_ = 0;  // Whether the base still holds it, its next acknowledgement says.
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
