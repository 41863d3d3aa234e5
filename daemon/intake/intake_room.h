// All trucks' streams at the base. One worker thread runs their protocol; the ledger's writer
// groups what they append. Of each stream one shipment is under way at a time, so an
// acknowledgement always follows a durable commit; a bounded few wait behind it, then the stream is
// no longer read.
//
// Threads: join, push, leave and notify from any thread, also from a gRPC reaction: they only move
// messages. Peer's methods are called from the worker and must not block.
#pragma once

#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "daemon/base/worker.h"
#include "daemon/intake/intake_state.h"
#include "daemon/intake/refusal_tally.h"
#include "daemon/watch/cosigned_heads.h"
#include "daemon/watch/office.h"

namespace fairlead::intake {

/// The network's end of one stream. All calls are safe after it has ended.
class Peer {
 public:
  virtual ~Peer() = default;
  virtual void send(v1::Reply reply) = 0;
  /// Reads on after push() said no.
  virtual void read_on() = 0;
  /// Ends the stream after what was sent.
  virtual void close() = 0;
};

struct RoomOptions {
  bool enrols = true;
  /// A strip's body has come after its header.
  std::function<void(const record::Id16& device, uint64_t seq)> on_body;
  /// Countersigned heads, told to trucks beside the newest one; null: none.
  const watch::CosignedHeads* cosigned = nullptr;
  /// One line of progress, for people.
  std::function<void(const std::string&)> log;
};

class IntakeRoom {
 public:
  static constexpr size_t kMostWaiting = 8;

  IntakeRoom(watch::Office& office, Devices& devices, RoomOptions options);
  /// Puts on record what was refused and not written yet.
  ~IntakeRoom();
  IntakeRoom(const IntakeRoom&) = delete;
  IntakeRoom& operator=(const IntakeRoom&) = delete;

  /// `certified`: the only device the caller's certificate lets it speak for.
  [[nodiscard]] uint64_t join(std::shared_ptr<Peer> peer,
                              std::optional<record::Id16> certified = {});
  /// False: read no more until read_on().
  [[nodiscard]] bool push(uint64_t visitor, v1::Shipment shipment);
  void leave(uint64_t visitor);
  /// An order was written: trucks that are connected get it now.
  void notify_orders();
  [[nodiscard]] bool connected(const record::Id16& device) const;

 private:
  struct Visitor {
    std::shared_ptr<Peer> peer;
    IntakeState state;
    std::deque<v1::Shipment> waiting;
    bool under_way = false;  // A shipment's entries are on their way to the disk.
    bool paused = false;
    bool gone = false;
    std::optional<record::Id16> device;
  };

  void work_off(uint64_t id);
  void start(uint64_t id, Visitor& visitor, v1::Shipment shipment);
  void finish(uint64_t id, Visitor& visitor, const Step& step);
  void greet(uint64_t id, Visitor& visitor);
  void end(uint64_t id, Visitor& visitor, const v1::Refusal& refusal);
  void send_orders(Visitor& visitor);
  void take_head(const ledger::SignedHead& head);
  void record_refusal(const Visitor& visitor, const v1::Refusal& refusal);
  void record_fork(const v1::ForkBody& fork, uint64_t shown_by);
  Visitor* find(uint64_t id);
  std::vector<std::shared_ptr<Visitor>> greeted() const;
  std::map<uint64_t, std::shared_ptr<Visitor>> streams_of(const record::Id16& device) const;

  watch::Office& office_;
  Devices& devices_;
  RoomOptions options_;
  mutable std::mutex mutex_;  // Guards the map of visitors and their waiting, paused, gone, device.
  uint64_t next_id_ = 1;
  std::map<uint64_t, std::shared_ptr<Visitor>> visitors_;
  RefusalTally refusals_;  // Worker only.
  Worker worker_;          // Last: it ends before what its tasks use.
};

}  // namespace fairlead::intake
