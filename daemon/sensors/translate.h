// A plugin's readings as observations, and the checks at this door: what a plugin says is hostile
// until it has passed here.
//
// Threads: pure functions.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "daemon/base/result.h"
#include "fairlead/v1/observation.pb.h"
#include "fairlead/v1/plugin_service.pb.h"

namespace fairlead::sensors {

inline constexpr int kMaxChannels = 64;
inline constexpr int kMaxOutputs = 16;
inline constexpr int kMaxReadingsInBatch = 4096;

/// A plugin may describe at most kMaxChannels channels: each a known signal (or "fix") in the unit
/// it is recorded in, none twice, none under a person's source; and at most kMaxOutputs outputs,
/// each with a name of its own. One of either at least. Errors: kBadInput.
[[nodiscard]] Status check_channels(const v1::PluginDescribed& described);

/// Size and channel numbers of a batch, times between 1970 and 9999. Errors: kBadInput, and then
/// the plugin has broken the contract.
[[nodiscard]] Status check_batch(const v1::PluginBatch& batch, int channels);

/// One reading (of a batch that passed check_batch). seq stays 0: the recorder gives it.
/// A value no working instrument shows is not passed on: it becomes a gap that quotes it. A reading
/// that is not GOOD is brought into the sane range, as its value counts as unknown anyway.
[[nodiscard]] v1::Observation to_observation(const v1::PluginReading& reading,
                                             const v1::PluginChannel& channel,
                                             std::string_view clock);

/// The daemon's own words about a channel.
[[nodiscard]] v1::Observation sensor_observation(std::string_view source, std::string_view channel,
                                                 std::string_view state, int64_t wall_us,
                                                 std::string_view clock);
[[nodiscard]] v1::Observation gap_observation(std::string_view source, std::string_view channel,
                                              std::string_view cause, int64_t wall_us,
                                              std::string_view clock);
[[nodiscard]] v1::Observation alive_observation(std::string_view source, int64_t wall_us,
                                                std::string_view clock);

/// At most `longest` bytes of valid UTF-8: what is not is replaced by '?'.
[[nodiscard]] std::string tame(std::string_view text, size_t longest);

}  // namespace fairlead::sensors
