#include "daemon/intake/intake_room.h"

#include <fmt/format.h>

#include <future>

#include "daemon/watch/stamp.h"

namespace fairlead::intake {
namespace {

constexpr std::chrono::seconds kTick{10};

}  // namespace

IntakeRoom::IntakeRoom(watch::Office& office, Devices& devices, RoomOptions options)
    : office_(office),
      devices_(devices),
      options_(std::move(options)),
      refusals_([this](const v1::RefusedBody& body) {
        office_.write_later(record::Kind::kRefused, {}, body, [](const auto&) {});
      }),
      worker_(kTick, [this] { refusals_.close_hours(watch::wall_now_us()); }) {
  office_.ledger().on_head([this, post = worker_.poster()](const ledger::SignedHead& head) {
    post([this, head] { take_head(head); });
  });
}

IntakeRoom::~IntakeRoom() {
  std::promise<void> done;
  const auto closed = done.get_future();
  if (worker_.post([&] {
        refusals_.close_all();
        done.set_value();
      })) {
    closed.wait();
  }
}

uint64_t IntakeRoom::join(std::shared_ptr<Peer> peer, std::optional<record::Id16> certified) {
  const std::lock_guard lock(mutex_);
  const uint64_t id = next_id_++;
  visitors_[id] = std::make_shared<Visitor>(
      Visitor{std::move(peer),
              IntakeState(office_.ledger(), devices_, options_.enrols, certified),
              {},
              false,
              false,
              false,
              {}});
  return id;
}

bool IntakeRoom::push(uint64_t visitor, v1::Shipment shipment) {
  bool more = false;
  {
    const std::lock_guard lock(mutex_);
    const auto it = visitors_.find(visitor);
    if (it == visitors_.end() || it->second->gone) return false;
    it->second->waiting.push_back(std::move(shipment));
    more = it->second->waiting.size() < kMostWaiting;
    it->second->paused = !more;
  }
  worker_.post([this, visitor] { work_off(visitor); });
  return more;
}

void IntakeRoom::leave(uint64_t visitor) {
  {
    const std::lock_guard lock(mutex_);
    const auto it = visitors_.find(visitor);
    if (it == visitors_.end()) return;
    it->second->gone = true;
    it->second->waiting.clear();
  }
  worker_.post([this, visitor] {
    std::shared_ptr<Visitor> last;
    {
      const std::lock_guard lock(mutex_);
      const auto it = visitors_.find(visitor);
      if (it == visitors_.end()) return;
      last = it->second;
      visitors_.erase(it);
    }
    if (last->device && options_.log)
      options_.log(fmt::format("{}: link down", last->state.device().name));
  });
}

void IntakeRoom::notify_orders() {
  worker_.post([this] {
    for (const auto& visitor : greeted()) send_orders(*visitor);
  });
}

bool IntakeRoom::connected(const record::Id16& device) const {
  const std::lock_guard lock(mutex_);
  for (const auto& [id, visitor] : visitors_) {
    if (!visitor->gone && visitor->device == device) return true;
  }
  return false;
}

std::map<uint64_t, std::shared_ptr<IntakeRoom::Visitor>> IntakeRoom::streams_of(
    const record::Id16& device) const {
  const std::lock_guard lock(mutex_);
  std::map<uint64_t, std::shared_ptr<Visitor>> out;
  for (const auto& [id, visitor] : visitors_) {
    if (!visitor->gone && visitor->device == device) out.emplace(id, visitor);
  }
  return out;
}

std::vector<std::shared_ptr<IntakeRoom::Visitor>> IntakeRoom::greeted() const {
  const std::lock_guard lock(mutex_);
  std::vector<std::shared_ptr<Visitor>> out;
  for (const auto& [id, visitor] : visitors_) {
    if (!visitor->gone && visitor->device && !visitor->state.retired()) out.push_back(visitor);
  }
  return out;
}

// Worker only: nobody else removes a visitor.
IntakeRoom::Visitor* IntakeRoom::find(uint64_t id) {
  const std::lock_guard lock(mutex_);
  const auto it = visitors_.find(id);
  return it == visitors_.end() || it->second->gone ? nullptr : it->second.get();
}

void IntakeRoom::work_off(uint64_t id) {
  while (Visitor* visitor = find(id)) {
    if (visitor->under_way) return;
    v1::Shipment shipment;
    bool read_on = false;
    {
      const std::lock_guard lock(mutex_);
      if (visitor->waiting.empty()) return;
      shipment = std::move(visitor->waiting.front());
      visitor->waiting.pop_front();
      read_on = visitor->paused && visitor->waiting.size() <= kMostWaiting / 2;
      if (read_on) visitor->paused = false;
    }
    if (read_on) visitor->peer->read_on();
    start(id, *visitor, std::move(shipment));
  }
}

void IntakeRoom::start(uint64_t id, Visitor& visitor, v1::Shipment shipment) {
  const bool hello = shipment.has_hello();
  Step step = visitor.state.take(std::move(shipment));
  if (hello && !step.refusal && !visitor.state.retired()) greet(id, visitor);
  if (!step.append.empty()) {
    visitor.under_way = true;
    office_.ledger().append(std::move(step.append),
                            [this, id, post = worker_.poster()](auto results) {
                              post([this, id, results = std::move(results)] {
                                Visitor* still = find(id);
                                if (still == nullptr) return;
                                still->under_way = false;
                                finish(id, *still, still->state.appended(results));
                                work_off(id);
                              });
                            });
  } else if (step.body) {
    visitor.under_way = true;
    const uint64_t seq = step.body->seq;
    const uint32_t epoch = step.body->epoch;
    const record::Id16 device = visitor.state.device().id;
    office_.ledger().append_body(
        device, epoch, seq, step.body->salt, std::move(step.body->body),
        [this, id, device, seq, on_body = options_.on_body, post = worker_.poster()](auto results) {
          if (results && on_body) on_body(device, seq);
          post([this, id, results = std::move(results)] {
            Visitor* still = find(id);
            if (still == nullptr) return;
            still->under_way = false;
            finish(id, *still, still->state.body_appended(results));
            work_off(id);
          });
        });
  }
  finish(id, visitor, step);
}

void IntakeRoom::finish(uint64_t id, Visitor& visitor, const Step& step) {
  for (const v1::Reply& reply : step.replies) visitor.peer->send(reply);
  if (step.orders_from_leaf) send_orders(visitor);
  if (step.fork) record_fork(*step.fork, id);
  if (step.refusal) end(id, visitor, *step.refusal);
}

// A truck that calls again while its old stream still seems alive has lost that stream: the newer
// one counts. If another run of its program calls, the old stream is asked once whether it lives:
// an answer shows that there are two trucks. One that is gone is never heard of again.
void IntakeRoom::greet(uint64_t id, Visitor& visitor) {
  std::vector<std::shared_ptr<Visitor>> gone, asked;
  {
    const std::lock_guard lock(mutex_);
    visitor.device = visitor.state.device().id;
    for (const auto& [other, known] : visitors_) {
      if (other == id || known->device != visitor.device || known->gone) continue;
      if (known->state.retired() || known->state.session() == visitor.state.session()) {
        known->gone = true;
        gone.push_back(known);
      } else {
        asked.push_back(known);
      }
    }
  }
  for (const auto& known : gone) known->peer->close();
  for (const auto& known : asked) known->peer->send(known->state.retire());
  if (options_.log) {
    options_.log(fmt::format("{}: link up, resumes after entry {}", visitor.state.device().name,
                             visitor.state.acked_seq()));
  }
}

void IntakeRoom::end(uint64_t id, Visitor& visitor, const v1::Refusal& refusal) {
  v1::Reply reply;
  *reply.mutable_refusal() = refusal;
  visitor.peer->send(reply);
  visitor.peer->close();
  record_refusal(visitor, refusal);
  if (options_.log) {
    const std::string who = visitor.state.greeted() ? visitor.state.device().name : "a caller";
    options_.log(fmt::format("{}: refused: {}", who, refusal.words()));
  }
  const std::lock_guard lock(mutex_);
  const auto it = visitors_.find(id);
  if (it == visitors_.end()) return;
  it->second->gone = true;
  it->second->waiting.clear();
}

void IntakeRoom::send_orders(Visitor& visitor) {
  for (;;) {
    auto orders = visitor.state.orders();
    if (!orders || orders->order_size() == 0) return;
    v1::Reply reply;
    *reply.mutable_orders() = std::move(*orders);
    visitor.peer->send(std::move(reply));
  }
}

void IntakeRoom::take_head(const ledger::SignedHead& head) {
  for (const auto& visitor : greeted()) {
    if (auto receipt = visitor->state.receipt(head)) visitor->peer->send(std::move(*receipt));
    if (auto news = visitor->state.head_news(head)) {
      if (options_.cosigned != nullptr)
        visitor->state.add_cosigned(*options_.cosigned, head, *news);
      visitor->peer->send(std::move(*news));
    }
  }
}

void IntakeRoom::record_refusal(const Visitor& visitor, const v1::Refusal& refusal) {
  // That the disk is full stands in an entry of its own.
  if (!visitor.state.greeted() || refusal.reason() == v1::Refusal::REASON_BUSY ||
      refusal.reason() == v1::Refusal::REASON_DISK_FULL) {
    return;
  }
  v1::RefusedBody body;
  body.set_device_id(string_of(visitor.state.device().id));
  body.set_reason(v1::Refusal::Reason_Name(refusal.reason()));
  body.set_first_seq(refusal.expected_seq());
  refusals_.add(std::move(body), watch::wall_now_us());
}

void IntakeRoom::record_fork(const v1::ForkBody& fork, uint64_t shown_by) {
  const auto id = array_of<16>(fork.device_id(), "fork.device_id");
  if (!id) return;
  if (const auto written = devices_.fork(fork); !written && options_.log)
    options_.log("a fork could not be written: " + written.error().message);
  // Whatever other stream of this truck is open ends with it.
  v1::Refusal refusal;
  refusal.set_reason(v1::Refusal::REASON_SUSPENDED);
  refusal.set_words("two records of this truck exist; a person must choose one at the base");
  for (const auto& [number, visitor] : streams_of(*id)) {
    if (number != shown_by) end(number, *visitor, refusal);
  }
}

}  // namespace fairlead::intake
