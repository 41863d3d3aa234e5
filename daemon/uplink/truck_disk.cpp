#include "daemon/uplink/truck_disk.h"

#include <fmt/format.h>

#include "daemon/base/key_file.h"
#include "daemon/ledger/sqlite/open.h"
#include "daemon/record/leaf.h"

namespace fairlead::uplink {
namespace {

constexpr size_t kLongestFile = 256 * 1024;
constexpr const char* kHeadValue = "seen_head";
constexpr const char* kCosignedValue = "cosigned_head";

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
  if (const auto note = (*opened)->value(kHeadValue)) {
    const auto parsed = record::parse_note(*note);
    const auto head =
        parsed ? record::parse_checkpoint(parsed->text) : std::unexpected(parsed.error());
    if (!head) return fail_at("the base's head on this truck: ", head.error());
    head_ = *head;
  }
  if (const auto note = (*opened)->value(kCosignedValue)) {
    const auto parsed = record::parse_note(*note);
    const auto head =
        parsed ? record::parse_checkpoint(parsed->text) : std::unexpected(parsed.error());
    if (!head) return fail_at("the countersigned head on this truck: ", head.error());
    cosigned_size_ = head->size;
  }
  const auto orders = (*opened)->orders(0);
  if (!orders) return std::unexpected(orders.error());
  if (!orders->empty()) orders_from_ = orders->back().leaf + 1;
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
  hello.set_epoch(tip->epoch);
  hello.set_last_seq(tip->seq);
  if (tip->epoch > 0) hello.set_last_chain(string_of(tip->chain));
  std::string text = "fairlead/hello/v1\n" + hello.device_id();
  append_be(text, hello.epoch());
  append_be(text, uint64_t{hello.last_seq()});
  hello.set_signature(string_of(key_->sign(text + hello.last_chain()).bytes));
  return hello;
}

Result<Hash> TruckDisk::chain_at(uint64_t seq) {
  if (seq == 0) {
    const std::lock_guard lock(mutex_);
    return genesis_;
  }
  const auto entries = entries_from(seq, 1);
  if (!entries) return std::unexpected(entries.error());
  if (entries->empty()) return fail(Code::kNotFound, fmt::format("no own entry {}", seq));
  return record::chain_of(entries->front().entry);
}

Result<std::vector<OwnEntry>> TruckDisk::entries_from(uint64_t seq, size_t count) {
  std::vector<OwnEntry> out;
  const ledger::Ledger* own = ledger();
  if (own == nullptr) return out;
  auto stored = own->device_entries(device_id_, 1, seq, count, true);
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

Status TruckDisk::keep_enrolment(const v1::Enrolment& enrolment) {
  if (auto ok = write_private_file(data_ / "enrolment", enrolment.SerializeAsString()); !ok)
    return ok;
  {
    const std::lock_guard lock(mutex_);
    if (auto ok = read_enrolment(); !ok) return ok;
    if (auto ok = open_ledger(); !ok) return ok;
  }
  if (on_enrolled) on_enrolled();
  return {};
}

Status TruckDisk::keep_ack(const v1::Ack& ack) {
  if (ledger::Ledger* own = ledger()) own->set_acked(device_id_, ack.seq());
  return {};
}

Status TruckDisk::keep_head(const record::Checkpoint& head, const std::string& note) {
  ledger::Ledger* own = ledger();
  if (own == nullptr) return {};
  if (auto ok = own->put_value(kHeadValue, note); !ok) return ok;
  const std::lock_guard lock(mutex_);
  head_ = head;
  return {};
}

Status TruckDisk::keep_cosigned(const record::Checkpoint& head, const std::string& note) {
  ledger::Ledger* own = ledger();
  if (own == nullptr) return {};
  if (auto ok = own->put_value(kCosignedValue, note); !ok) return ok;
  const std::lock_guard lock(mutex_);
  cosigned_size_ = head.size;
  return {};
}

uint64_t TruckDisk::cosigned_size() const {
  const std::lock_guard lock(mutex_);
  return cosigned_size_;
}

Status TruckDisk::keep_orders(const v1::Orders& orders) {
  ledger::Ledger* own = ledger();
  if (own == nullptr) return fail(Code::kInternal, "orders came before the enrolment");
  for (const v1::SignedOrder& order : orders.order()) {
    if (order.leaf_index() < orders_from_) continue;
    const auto entry = array_of<record::kEntrySize>(order.entry(), "order");
    const auto salt = array_of<16>(order.salt(), "order's salt");
    if (!entry || !salt) return fail(Code::kBadInput, "an order of another form; update the truck");
    const ledger::HeldOrder held{order.leaf_index(), *entry, *salt, order.body()};
    if (auto ok = own->put_order(held); !ok) return ok;
    {
      const std::lock_guard lock(mutex_);
      orders_from_ = order.leaf_index() + 1;
    }
    if (on_order) on_order(held);
  }
  return {};
}

Result<uint64_t> TruckDisk::orders_from_leaf() {
  const std::lock_guard lock(mutex_);
  return orders_from_;
}

}  // namespace fairlead::uplink
