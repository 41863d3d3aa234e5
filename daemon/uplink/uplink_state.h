// The truck's side of store and forward, without any network: what to send next and what a reply
// means. One object a connection.
//
// Order: greet() once, then take() every reply and send what next() gives until it gives nothing.
// The base's heads are checked for consistency with the newest head this truck has seen, receipts
// for inclusion, orders for an admin key of the newest roster this truck knows (it hears of another
// with the next connection; until then the one it knows counts). A failed check ends the connection
// with kConflict: only a person can say which side is right. Where the base holds more of this
// truck's record than this disk, or other entries, the disk was put back: uplink_restore.cpp.
// Threads: one at a time.
#pragma once

#include <cstdint>
#include <deque>
#include <optional>

#include "daemon/record/roster.h"
#include "daemon/uplink/uplink_store.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::uplink {

inline constexpr size_t kBatchEntries = 256;
inline constexpr size_t kBatchBytes = size_t{1} << 20;
inline constexpr size_t kWindowEntries = 1'024;
inline constexpr size_t kWindowBytes = size_t{4} << 20;

class UplinkState {
 public:
  explicit UplinkState(UplinkStore& store) : store_(store) {}

  [[nodiscard]] Result<v1::Shipment> greet();

  /// Errors: kUnavailable = connect again later (the words say when the base said so); kConflict =
  /// the two records differ or a proof fails, a person must decide; others from the disk.
  [[nodiscard]] Status take(const v1::Reply& reply);

  /// The next shipment the window has room for; nullopt when there is nothing to send now.
  [[nodiscard]] Result<std::optional<v1::Shipment>> next();

  [[nodiscard]] bool streaming() const { return streaming_; }
  [[nodiscard]] uint64_t acked_seq() const { return acked_seq_; }
  [[nodiscard]] uint64_t receipted_seq() const { return receipted_seq_; }
  [[nodiscard]] size_t bytes_under_way() const { return bytes_under_way_; }
  [[nodiscard]] size_t entries_under_way() const { return under_way_.size(); }
  /// Wait the base asked for before the next attempt; 0 = none.
  [[nodiscard]] uint32_t retry_after_ms() const { return retry_after_ms_; }

 private:
  struct UnderWay {
    uint64_t seq = 0;
    size_t bytes = 0;
  };
  /// An epoch that is being opened.
  struct Opening {
    v1::Recovery recovery;
    v1::RestoreBody body;
    v1::Place have;  // Given back up to here ...
    Hash chain{};    // ... and the chain value there.
  };

  Status take_resume(const v1::Resume& resume);
  Status take_enrolment(const v1::Resume& resume);
  /// Everything is as this disk has it: sending may begin.
  Status begin_streaming(const v1::Resume& resume, const Tip& tip);
  /// Follows the base into its later generations. Errors: kConflict.
  Status take_generations(const v1::Resume& resume, const v1::Enrolment& held);
  Result<bool> agrees(const v1::Resume& resume, const Tip& tip);
  Status begin_differs(const v1::Resume& resume, const Tip& tip);
  Status take_restored(const v1::Restored& restored);
  Status take_returned(const v1::Returned& returned);
  Status open_epoch(const v1::Resume& resume);
  Status sort_bodies(const v1::Resume& resume);
  Status take_ack(const v1::Ack& ack);
  Status take_receipt(const v1::Receipt& receipt);
  Status take_refusal(const v1::Refusal& refusal);
  Status take_orders(const v1::Orders& orders);
  Status check_order(const v1::SignedOrder& order) const;
  Status first_contact(const v1::Enrolment& enrolment);
  Status open_enrolment(const v1::Enrolment& enrolment);
  Status follow_roster(v1::Enrolment held, const v1::Enrolment& told);
  /// Of the newest roster; with `ever` of any this truck knows.
  bool is_by_admin(const record::EntryHeader& header, const record::EntryBytes& entry,
                   bool ever) const;
  /// Signed by the log and an extension of the newest head seen; kept when it is newer.
  Status take_head(const std::string& note,
                   const google::protobuf::RepeatedPtrField<std::string>& proof);
  /// News may come out of order or twice; what does not fit the head seen is left to the next
  /// resume, which the base must prove from there.
  Status take_news(const v1::Head& news);
  /// Signed by the log and a beginning of the head it came with.
  Status take_cosigned(const v1::Head& news);
  Result<std::optional<v1::Shipment>> next_batch();
  Result<std::optional<v1::Shipment>> next_body();
  Result<std::optional<v1::Shipment>> next_older_body();
  size_t room_bytes() const {
    return bytes_under_way_ < window_bytes_ ? window_bytes_ - bytes_under_way_ : 0;
  }

  UplinkStore& store_;
  std::optional<record::Roster> roster_;
  std::vector<record::Roster> older_rosters_;
  record::Id16 device_id_{};
  bool resumed_ = false;  // The base has answered the hello.
  bool streaming_ = false;
  bool held_orders_to_say_ = false;
  uint32_t epoch_ = 0;
  Hash genesis_{};  // Of the epoch.
  uint64_t sent_seq_ = 0, acked_seq_ = 0, receipted_seq_ = 0;
  size_t window_entries_ = kWindowEntries, window_bytes_ = kWindowBytes;
  std::deque<UnderWay> under_way_;     // Entries sent, not acknowledged.
  std::deque<uint64_t> bodies_later_;  // Strips whose body is still to be sent.
  std::deque<UnderWay> bodies_under_way_;
  std::deque<v1::Place> older_bodies_;  // Of earlier epochs; one at a time is under way.
  bool older_body_under_way_ = false;
  std::optional<v1::Differs> differs_;  // To be sent.
  std::optional<Opening> opening_;
  std::string probed_;  // Nonce to be answered.
  size_t bytes_under_way_ = 0;
  uint32_t retry_after_ms_ = 0;
};

}  // namespace fairlead::uplink
