// What the misbehaving plugin is told to do, and the list of all it can do.
//
// Threads: values and pure functions. Units: in the names.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "plugins/sdk/config.h"

namespace fairlead::misbehave {

enum class Fault {
  kNone,
  // While starting.
  kMute,           // Never says hello.
  kIgnoreRefusal,  // Goes on after it was refused.
  kBadUnit,        // Describes a channel in a unit it is not recorded in.
  kBadSignal,      // Describes a signal nobody knows.
  kBadRange,       // Describes a range that ends before it begins.
  kAnyConfig,      // Takes keys it does not know.
  // What it says.
  kBatchHole,      // Leaves a batch number out now and then.
  kHugeBatch,      // More readings in a batch than allowed.
  kDescribeAgain,  // Describes other channels within the session.
  kHelloAgain,     // Says hello in the middle of a stream.
  kBadChannel,     // Readings of a channel it never described.
  kClockJump,      // Wall clock an hour ahead now and then.
  kMonoBack,       // Monotonic clock that runs back.
  kLie,            // Values outside of what it declared, and of all sense.
  kNotANumber,     // NaN.
  kWrongKind,      // A fix on a channel of samples.
  kMisread,        // Reads its instrument wrong by one.
  kInvents,        // Fills the time it was stopped with readings.
  kForgets,        // Sends nothing again after a reconnect.
  kFlood,          // Fifty times its rate.
  // What it does to the machine.
  kCrash,       // Ends by a signal.
  kQuit,        // Ends as if all were well.
  kStop,        // Stops itself.
  kHang,        // Its loop waits for ever: for a silent instrument, or without one at once.
  kLeak,        // Takes 4 MB of memory a second, for ever.
  kHoard,       // Buffers without bound while it is not read.
  kSpin,        // Burns a core.
  kOpenFiles,   // Opens a file with each reading.
  kChatter,     // Writes thousands of lines to stderr.
  kLitter,      // Writes to stdout and leaves files about.
  kIgnoreTerm,  // Does not end when it is asked to.
  kOrphan,      // Leaves a child of its own behind.
  kFragile,     // Crashes on rubbish from its instrument.
  kWallWait,    // Paces itself by the wall clock.
  // Any of them, another at each start.
  kRandom,
};

struct Word {
  Fault fault;
  std::string_view word;
  std::string_view what;
};
/// All of them, in the order above.
[[nodiscard]] std::span<const Word> words();
[[nodiscard]] std::optional<Fault> fault_of(std::string_view word);
[[nodiscard]] std::string_view word_of(Fault fault);

struct Settings {
  Fault fault = Fault::kNone;
  std::string source = "line";
  double rate_hz = 100;
  /// A serial device or pty that sends one number a line; empty: it counts by itself.
  std::string device;
  /// An output it says it can switch; empty: none.
  std::string output;
  /// Behaves well for so long first.
  int64_t after_us = 0;
  /// Kills itself after so long; 0: never.
  int64_t lifetime_us = 0;
  /// For kRandom.
  int64_t seed = 0;
};

/// Reads the configuration; `strict`: unknown keys are problems.
[[nodiscard]] sdk::Problems read_settings(const std::string& toml, bool strict, Settings& settings);

}  // namespace fairlead::misbehave
