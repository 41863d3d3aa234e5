#include "daemon/intake/intake_state.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "daemon/intake/hello.h"

namespace fairlead::intake {
namespace {

constexpr uint32_t kBusyRetryMs = 5'000, kFullRetryMs = 10'000;
constexpr size_t kMostBodiesMissing = 100'000;

v1::Refusal::Reason reason_of(ledger::Refusal refusal) {
  switch (refusal) {
    case ledger::Refusal::kUnknownDevice:
      return v1::Refusal::REASON_UNKNOWN_KEY;
    case ledger::Refusal::kBadSignature:
      return v1::Refusal::REASON_BAD_SIGNATURE;
    case ledger::Refusal::kOutOfOrder:
      return v1::Refusal::REASON_OUT_OF_ORDER;
    case ledger::Refusal::kBrokenChain:
      return v1::Refusal::REASON_BROKEN_CHAIN;
    case ledger::Refusal::kBodyMismatch:
      return v1::Refusal::REASON_BODY_MISMATCH;
    case ledger::Refusal::kFork:
      return v1::Refusal::REASON_FORK;
    case ledger::Refusal::kNone:
    case ledger::Refusal::kBadForm:
      break;
  }
  return v1::Refusal::REASON_BAD_FORM;
}

v1::ForkBody fork_of(const record::EntryBytes& other, const ledger::AppendResult& result) {
  v1::ForkBody fork;
  if (const auto header = record::decode_header(other)) {
    fork.set_device_id(string_of(header->device_id));
    fork.set_epoch(header->epoch);
    fork.set_seq(header->seq);
  }
  if (result.kept) fork.set_kept_entry(string_of(*result.kept));
  fork.set_other_entry(string_of(other));
  fork.set_words(result.words);
  return fork;
}

}  // namespace

v1::Refusal IntakeState::refuse(v1::Refusal::Reason reason, std::string words) const {
  v1::Refusal refusal;
  refusal.set_reason(reason);
  refusal.set_words(std::move(words));
  refusal.set_expected_seq(device_ ? mark_.seq + 1 : 0);
  return refusal;
}

v1::Refusal IntakeState::busy(const Error& error) const {
  v1::Refusal refusal = refuse(v1::Refusal::REASON_BUSY, error.message);
  refusal.set_retry_after_ms(kBusyRetryMs);
  return refusal;
}

v1::Refusal IntakeState::not_stored(const Error& error) const {
  // The ledger says so of a full disk, and of an older copy of itself.
  if (error.code != Code::kUnavailable || !devices_.office().heads().frozen().empty())
    return busy(error);
  v1::Refusal refusal = refuse(v1::Refusal::REASON_DISK_FULL, error.message);
  refusal.set_retry_after_ms(kFullRetryMs);
  return refusal;
}

Step IntakeState::refused(v1::Refusal refusal) {
  Step step;
  step.refusal = std::move(refusal);
  return step;
}

Step IntakeState::take(v1::Shipment shipment) {
  if (shipment.has_probe_answer()) return take_probe_answer(shipment.probe_answer());
  if (retired_) return {};
  if (!device_ && !shipment.has_hello()) {
    return refused(refuse(v1::Refusal::REASON_BAD_FORM, "the first shipment must be a hello"));
  }
  switch (shipment.kind_case()) {
    case v1::Shipment::kHello:
      return take_hello(shipment.hello());
    case v1::Shipment::kBatch:
      return take_batch(*shipment.mutable_batch());
    case v1::Shipment::kBodyLater:
      return take_body(*shipment.mutable_body_later());
    case v1::Shipment::kOrdersHeld:
      orders_from_ = std::max(orders_from_, uint64_t{shipment.orders_held().orders_from_leaf()});
      return {};
    case v1::Shipment::kDiffers:
      return take_differs(shipment.differs());
    case v1::Shipment::kProbeAnswer:
    case v1::Shipment::KIND_NOT_SET:
      break;
  }
  return refused(refuse(v1::Refusal::REASON_BAD_FORM,
                        "a shipment of a kind this base does not know; update it"));
}

Result<Device> IntakeState::meet(const v1::Hello& hello) {
  const auto id = array_of<16>(hello.device_id(), "hello.device_id");
  if (!id) return std::unexpected(id.error());
  auto known = devices_.find(*id);
  if (!known && !enrols_) {
    return fail(Code::kDenied,
                fmt::format("'{}' is not enrolled; run fairlead enrol truck at the base, with the "
                            "truck's device.pub and the code it shows",
                            hello.name()));
  }
  if (!known) {
    v1::EnrolBody body;
    body.set_device_id(hello.device_id());
    body.set_public_key(hello.public_key());
    body.set_device_name(hello.name());
    body.set_truck(hello.name());
    body.set_kind(v1::EnrolBody::TRUCK);
    auto enrolled = devices_.enrol(body);
    if (!enrolled && enrolled.error().code == Code::kConflict)
      return fail(Code::kDenied, enrolled.error().message);
    if (!enrolled) return std::unexpected(enrolled.error());
    known = *enrolled;
  }
  if (hello.has_key_change()) return change_key(*known, hello);
  if (view_of(known->key.bytes) != hello.public_key()) {
    return fail(Code::kDenied, fmt::format("'{}' is enrolled with another key", known->name));
  }
  return *known;
}

// Only where nothing signed by the old key is still to come.
Result<Device> IntakeState::change_key(const Device& device, const v1::Hello& hello) {
  if (hello.public_key() != hello.key_change().old_public_key()) {
    return fail(Code::kDenied, "the change of keys is not asked for by the old key");
  }
  const auto mark = ledger_.watermark(device.id);
  if (!mark) return std::unexpected(mark.error());
  const bool done = view_of(device.key.bytes) == hello.key_change().new_public_key();
  if (!done && (hello.epoch() != mark->epoch || hello.last_seq() != mark->seq)) {
    return fail(Code::kUnavailable,
                "the key is changed once every entry signed by the old one is here");
  }
  return devices_.rotate(device.id, hello.key_change());
}

std::optional<v1::Refusal> IntakeState::check_seen(const v1::Hello& hello) const {
  const auto fits = devices_.office().heads().show(
      {hello.seen_size(), hello.seen_root(), hello.seen_note(), "truck " + hello.name()});
  if (fits) return std::nullopt;
  if (fits.error().code == Code::kConflict)
    return refuse(v1::Refusal::REASON_SUSPENDED, fits.error().message);
  return busy(fits.error());
}

Step IntakeState::take_hello(const v1::Hello& hello) {
  if (device_) return refused(refuse(v1::Refusal::REASON_BAD_FORM, "a second hello on one stream"));
  if (const auto ok = check_hello(hello); !ok) {
    return refused(refuse(v1::Refusal::REASON_BAD_SIGNATURE, ok.error().message));
  }
  if (certified_ && hello.device_id() != view_of(*certified_)) {
    return refused(refuse(v1::Refusal::REASON_UNKNOWN_KEY,
                          fmt::format("the certificate is of device {}, the caller says it is {}; "
                                      "a truck sends its own record only",
                                      hex_of(*certified_), hex_of(hello.device_id()))));
  }
  // A truck that is new here and has seen nothing tells nothing about this base.
  const auto id = array_of<16>(hello.device_id(), "hello.device_id");
  const bool known = id && devices_.find(*id);
  if (known || hello.seen_size() > 0) {
    if (auto refusal = check_seen(hello)) return refused(*refusal);
  }
  auto met = meet(hello);
  if (!met && met.error().code == Code::kDenied) {
    return refused(refuse(v1::Refusal::REASON_UNKNOWN_KEY, met.error().message));
  }
  if (!met) return refused(busy(met.error()));
  if (auto refusal = check_copy(*met, hello)) return refused(*refusal);
  hello_ = hello;
  if (auto step = check_epoch(*met)) return std::move(*step);
  if (devices_.note_session(met->id, hello.session()) == Session::kEarlier) {
    // Either this hello was long on its way, or two copies call in turn: an answer shows which.
    device_ = std::move(*met);
    retired_ = true;
    Step step;
    step.replies.push_back(probe());
    return step;
  }
  device_ = std::move(*met);
  told_size_ = devices_.office().heads().size_in_tree(hello.seen_size(), hello.seen_note());
  auto resumed = resume();
  if (!resumed) {
    device_.reset();
    return refused(busy(resumed.error()));
  }
  Step step;
  *step.replies.emplace_back().mutable_resume() = std::move(*resumed);
  orders_from_ = hello.orders_from_leaf();
  step.orders_from_leaf = orders_from_;
  return step;
}

Result<v1::Resume> IntakeState::resume() {
  const auto mark = ledger_.watermark(device_->id);
  if (!mark) return std::unexpected(mark.error());
  mark_ = *mark;
  receipted_seq_ = mark_.seq;
  v1::Resume resume;
  *resume.mutable_enrolment() = device_->enrolment;
  resume.set_epoch(mark_.epoch);
  resume.set_public_key(string_of(device_->key.bytes));
  resume.set_acked_seq(mark_.seq);
  resume.set_acked_chain(string_of(mark_.chain));
  resume.set_window_entries(kWindowEntries);
  resume.set_window_bytes(kWindowBytes);
  const auto missing = ledger_.bodies_missing(device_->id, kMostBodiesMissing);
  if (!missing) return std::unexpected(missing.error());
  resume.mutable_bodies_missing()->Assign(missing->begin(), missing->end());
  for (uint32_t epoch = 1; epoch < mark_.epoch; ++epoch) {
    const auto older = ledger_.bodies_missing_in(device_->id, epoch, kMostBodiesMissing);
    if (!older) return std::unexpected(older.error());
    for (const uint64_t seq : *older) {
      v1::Place& place = *resume.add_older_bodies_missing();
      place.set_epoch(epoch);
      place.set_seq(seq);
    }
  }
  for (const watch::Ancestor& ancestor : devices_.office().heads().ancestors())
    *resume.add_generation() = ancestor.seam;
  if (const auto head = ledger_.head(); head && head->size >= told_size_) {
    if (auto news = head_news(*head)) {
      resume.set_checkpoint(news->head().checkpoint());
      *resume.mutable_consistency() = news->head().consistency();
    }
  }
  return resume;
}

bool IntakeState::is_of_this_ledger(const record::Id16& ledger_id) const {
  if (ledger_id == record::ledger_id_of(device_->enrolment.origin())) return true;
  return std::ranges::any_of(
      devices_.office().heads().ancestors(),
      [&](const watch::Ancestor& ancestor) { return ancestor.ledger_id == ledger_id; });
}

Step IntakeState::take_batch(v1::EntryBatch& batch) {
  if (batch.entry_size() > kBatchEntries || batch.ByteSizeLong() > kBatchBytes) {
    return refused(refuse(
        v1::Refusal::REASON_BAD_FORM,
        fmt::format("a batch may hold {} entries and {} bytes", kBatchEntries, kBatchBytes)));
  }
  sending_ = true;
  Step step;
  under_way_.clear();
  for (v1::SentEntry& sent : *batch.mutable_entry()) {
    const auto entry = array_of<record::kEntrySize>(sent.entry(), "entry");
    const auto header = entry ? record::decode_header(*entry) : std::unexpected(entry.error());
    std::string wrong;
    auto reason = v1::Refusal::REASON_BAD_FORM;
    if (!header) {
      wrong = header.error().message;
    } else if (record::is_base_kind(header->kind)) {
      wrong = fmt::format("a truck may not write {}", record::kind_name(header->kind));
    } else if (header->device_id != device_->id || !is_of_this_ledger(header->ledger_id)) {
      reason = v1::Refusal::REASON_UNKNOWN_KEY;
      wrong = "the entry names another device or another ledger";
    } else if (sent.body_follows() && header->kind != record::Kind::kStrip) {
      wrong = "only a strip's body may come later";
    }
    ledger::SentEntry taken;
    if (wrong.empty() && !sent.body_follows() && !sent.erased()) {
      const auto salt = array_of<16>(sent.salt(), "salt");
      if (!salt) wrong = salt.error().message;
      taken.salt = salt.value_or(record::Salt{});
      taken.body = std::move(*sent.mutable_body());
    }
    if (wrong.empty() && header->kind == record::Kind::kRecovered && !sent.erased())
      wrong = wrong_with_recovered(*header, taken.body);
    if (!wrong.empty()) {
      if (step.append.empty()) return refused(refuse(reason, wrong));
      refusal_after_ = refuse(reason, wrong);
      break;
    }
    under_way_.push_back(*entry);
    taken.entry = *entry;
    taken.body_state = sent.erased()         ? ledger::BodyState::kErased
                       : sent.body_follows() ? ledger::BodyState::kFollows
                                             : ledger::BodyState::kHere;
    step.append.push_back(std::move(taken));
  }
  return step;
}

Step IntakeState::appended(const Result<std::vector<ledger::AppendResult>>& results) {
  if (!results) return refused(not_stored(results.error()));
  Step step;
  step.refusal = std::exchange(refusal_after_, std::nullopt);
  bool broken = false;
  for (size_t i = 0; i < results->size(); ++i) {
    const ledger::AppendResult& result = (*results)[i];
    if (result.outcome != ledger::Outcome::kRefused) {
      mark_ = result.mark;
    } else if (!std::exchange(broken, true)) {
      step.refusal = refuse(reason_of(result.refusal), result.words);
      if (result.refusal == ledger::Refusal::kFork) step.fork = fork_of(under_way_.at(i), result);
    }
  }
  if (step.refusal) step.refusal->set_expected_seq(mark_.seq + 1);
  step.replies.push_back(ack());
  return step;
}

Step IntakeState::take_body(v1::BodyLater& later) {
  const auto salt = array_of<16>(later.salt(), "salt");
  if (!salt) return refused(refuse(v1::Refusal::REASON_BAD_FORM, salt.error().message));
  Step step;
  step.body = TakenBody{later.epoch(), later.seq(), *salt, std::move(*later.mutable_body())};
  return step;
}

Step IntakeState::body_appended(const Result<std::vector<ledger::AppendResult>>& results) {
  if (!results) return refused(not_stored(results.error()));
  if (!results->empty() && results->front().outcome == ledger::Outcome::kRefused) {
    return refused(refuse(reason_of(results->front().refusal), results->front().words));
  }
  Step step;
  if (!results->empty() && results->front().mark.epoch == mark_.epoch)
    mark_ = results->front().mark;
  step.replies.push_back(ack());
  return step;
}

v1::Reply IntakeState::ack() const {
  v1::Reply reply;
  v1::Ack& ack = *reply.mutable_ack();
  ack.set_epoch(mark_.epoch);
  ack.set_seq(mark_.seq);
  ack.set_chain(string_of(mark_.chain));
  ack.set_leaf_index(mark_.leaf);
  ack.set_body_seq(mark_.body_seq);
  return reply;
}

}  // namespace fairlead::intake
