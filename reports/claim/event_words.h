// The events that rules name, in words an adjuster reads: one table for every page.
//
// Threads: pure functions over constants.
#pragma once

#include <string>
#include <string_view>

namespace fairlead::reports {

/// "clamp.negative.off" is "negative clamp off"; an event the table does not hold stays as it is.
[[nodiscard]] std::string event_words(std::string_view event);

/// A limit with every event in it put in words: "identified before first_touch" is "car
/// identified before first touch".
[[nodiscard]] std::string with_event_words(std::string_view text);

}  // namespace fairlead::reports
