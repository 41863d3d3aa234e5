// What one line says: the facts it sets and the momentary events it is.
//
// Threads: pure functions.
#pragma once

#include <array>
#include <functional>
#include <optional>
#include <string>

#include "daemon/judge/timeline.h"
#include "fairlead/v1/observation.pb.h"
#include "fairlead/v1/register.pb.h"

namespace fairlead::judge {

/// Where each wheel stands (LF, RF, LR, RR); lines change it one by one.
using WheelStates = std::array<v1::Wheels::On, 4>;
constexpr WheelStates kAllOnGround{v1::Wheels::GROUND, v1::Wheels::GROUND, v1::Wheels::GROUND,
                                   v1::Wheels::GROUND};

using SetFact = std::function<void(const std::string& fact, Tri value)>;

/// Facts that depend on one line alone. Wheels, tiedowns and rigging need what came before and
/// are FactBook's.
void facts_of_line(const v1::Observation& line, const SetFact& set);

/// Facts of the wheels after `line`; `states` is carried from line to line.
void wheel_facts(const v1::Wheels& line, v1::Vehicle::Driven driven, WheelStates& states,
                 const SetFact& set);

/// Names of the momentary events the line is ("photo:front", "photo.before:front").
void events_of_line(const v1::Observation& line,
                    const std::function<void(const std::string&)>& emit);

/// People speak through two sources; every other one is an instrument.
[[nodiscard]] bool is_person(std::string_view source);

/// How the line is known: pictured (photo, film), said (by a person), else measured.
[[nodiscard]] Basis basis_of_line(const v1::Observation& line);

/// What holds at `opened` for a fact no line has named yet.
[[nodiscard]] Tri initial_of(const std::string& fact);

}  // namespace fairlead::judge
