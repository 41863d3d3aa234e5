// What one plugin has sent and the recorder has not taken yet, in order, with the supervisor's own
// marks between. Bounded in readings: when full, the reader is told to pause and woken when half is
// gone, so that a flooding plugin is held back in its own buffer.
//
// Threads: any.
#pragma once

#include <cstdint>
#include <deque>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "fairlead/v1/observation.pb.h"
#include "fairlead/v1/plugin_service.pb.h"

namespace fairlead::sensors {

class Inbox {
 public:
  static constexpr size_t kMaxReadings = 8192;

  /// A batch with the session it belongs to.
  struct Batch {
    std::string session;
    v1::PluginBatch batch;
  };
  /// Heartbeat of a plugin, in order with its batches.
  struct Beat {
    int64_t wall_us = 0;
  };
  /// The channels everything behind it is read by.
  struct Described {
    std::vector<v1::PluginChannel> channels;
  };
  /// Something to say about every channel: live (gap false) or missing (gap true).
  struct Mark {
    bool gap = false;
    std::string words;
    int64_t wall_us = 0;
  };
  /// A command was carried out, or why not.
  struct Switched {
    std::string output;
    bool on = false;
    std::string trouble{};
  };
  using Item = std::variant<Batch, Beat, Described, Mark, Switched>;

  /// Always takes it. False: full, read no more until `resume` is called (once, from pop()).
  bool push(Item item, std::function<void()> resume = {});
  std::optional<Item> pop();
  [[nodiscard]] bool empty() const;

 private:
  mutable std::mutex mutex_;
  std::deque<Item> items_;
  size_t readings_ = 0;
  std::function<void()> resume_;
};

}  // namespace fairlead::sensors
