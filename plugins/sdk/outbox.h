// What a plugin has read and the recorder has not taken yet: a bounded list of numbered batches.
// Full: new readings are counted instead of kept, and a gap mark with that count is put in as soon
// as there is room again, so a loss is always seen. After a broken stream everything that was not
// acked is sent once more under its old number.
//
// Threads: one at a time (Feed locks). Limits: kMaxBatch readings a batch, `max_readings` in all
// (gap marks of the outbox itself may stand above it, one a channel).
#pragma once

#include <cstdint>
#include <deque>
#include <map>

#include "fairlead/v1/plugin_service.pb.h"

namespace fairlead::sdk {

class Outbox {
 public:
  static constexpr int kMaxBatch = 64;

  explicit Outbox(size_t max_readings) : max_readings_(max_readings) {}

  /// Takes one reading, or counts it as lost when full.
  void add(v1::PluginReading reading);

  /// The next batch to put on the stream; null when nothing is ready. `flush` closes a batch that
  /// is not full yet. The pointer holds until the next call that changes the outbox.
  [[nodiscard]] const v1::PluginBatch* next(bool flush);

  /// Closes the batch under way. Returns the number of the last batch: everything read so far is in
  /// it or before it.
  uint64_t close();
  /// Everything up to this batch is on the present stream.
  [[nodiscard]] bool sent(uint64_t batch_seq) const;

  /// The recorder has everything up to `batch_seq`. A number never sent is ignored.
  void ack(uint64_t batch_seq);

  /// A new stream: `acked` is what the daemon says it has; the rest is to be sent again.
  void rewind(uint64_t acked);

  /// Readings kept.
  [[nodiscard]] size_t size() const { return kept_; }
  [[nodiscard]] bool full() const { return kept_ >= max_readings_; }
  /// Nothing left that the recorder lacks.
  [[nodiscard]] bool drained() const { return kept_ == 0 && lost_.empty(); }
  [[nodiscard]] uint64_t lost_in_all() const { return lost_in_all_; }

 private:
  struct Lost {
    uint64_t count = 0;
    int64_t wall_us = 0;
    int64_t mono_us = 0;
  };
  void mark_losses();
  void put(v1::PluginReading reading);

  size_t max_readings_;
  size_t kept_ = 0;
  std::deque<v1::PluginBatch> closed_;
  size_t sent_ = 0;  // The first `sent_` of closed_ are on the present stream.
  v1::PluginBatch open_;
  uint64_t last_seq_ = 0;
  std::map<uint32_t, Lost> lost_;
  uint64_t lost_in_all_ = 0;
};

}  // namespace fairlead::sdk
