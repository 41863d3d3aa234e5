#include "daemon/judge/instrument_boost.h"

#include <algorithm>
#include <array>
#include <cstdlib>

#include "daemon/judge/instrument_lasting.h"
#include "daemon/physics/boosting_class.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kSecond = 1'000'000, kAtOnce = 200'000;

// Stored as mV and mA; worked out when compiled, and all of them whole.
consteval int64_t milli(double value) {
  const double scaled = value * 1000;
  const auto whole = static_cast<int64_t>(scaled < 0 ? scaled - 0.5 : scaled + 0.5);
  const double off = scaled - static_cast<double>(whole);
  if (off > 1e-6 || off < -1e-6) std::abort();  // Not whole: does not compile.
  return whole;
}
constexpr int64_t kConnectedMv = milli(physics::kConnectedV), kOffMv = milli(physics::kOffV);
constexpr int64_t kReversedMv = milli(physics::kReversedSurelyV),
                  kRightMv = milli(physics::kReversedBelowV);
constexpr int64_t kShortedBelowMv = milli(physics::kShortedBelowV),
                  kShortedMa = milli(physics::kShortedA),
                  kShortOverMa = milli(physics::kShortOverA),
                  kShortOverMv = milli(physics::kShortOverV);
constexpr int64_t kSurgeMa = milli(physics::kSurgeA), kSurgeOverMa = milli(physics::kSurgeOverA);
constexpr int64_t kFedMv = milli(physics::kFedV), kNotFedMv = milli(physics::kNotFedV);

struct SourceClass {
  std::string_view fact;
  int64_t from_mv, to_mv;
};
constexpr std::array kClasses{
    SourceClass{"source.class:12", milli(physics::kSource12V.lo), milli(physics::kSource12V.hi)},
    SourceClass{"source.class:24", milli(physics::kSource24V.lo), milli(physics::kSource24V.hi)},
    SourceClass{"source.class:48", milli(physics::kSource48V.lo), milli(physics::kSource48V.hi)}};
constexpr std::array<std::string_view, 5> kFacts{"clamp.connected", "clamp.reversed",
                                                 "clamp.shorted", "clamp.surge", "clamp.recovered"};

Lasting at_least(int64_t value, int64_t for_us) {
  return {[=](const Piece& piece) { return piece.value >= value; }, for_us};
}
Lasting below(int64_t value, int64_t for_us) {
  return {[=](const Piece& piece) { return piece.value < value; }, for_us};
}

Timeline connected(const Series& volts, const JobLines& lines, Begun* begun) {
  return lasting_timeline(
      volts, lines,
      {[](const Piece& piece) { return std::abs(piece.value) >= kConnectedMv; }, kSecond},
      {[](const Piece& piece) { return std::abs(piece.value) < kOffMv; }, kSecond}, begun);
}

Timeline reversed(const Series& volts, const JobLines& lines, Begun* begun) {
  return lasting_timeline(
      volts, lines, {[](const Piece& piece) { return piece.value <= kReversedMv; }, kAtOnce},
      {[](const Piece& piece) { return piece.value > kRightMv; }, kSecond}, begun);
}

Timeline shorted(const Series& volts, const Series& amps, const JobLines& lines, Begun* begun) {
  if (volts.pieces.empty()) return Timeline(Tri::kUnknown);
  const auto volts_at = [&](const Piece& piece) { return volts.at(piece.from_us); };
  return lasting_timeline(amps, lines,
                          {[&](const Piece& piece) {
                             const Piece* at = volts_at(piece);
                             return std::abs(piece.value) >= kShortedMa && at != nullptr &&
                                    std::abs(at->value) < kShortedBelowMv;
                           },
                           kAtOnce},
                          {[&](const Piece& piece) {
                             const Piece* at = volts_at(piece);
                             return std::abs(piece.value) < kShortOverMa ||
                                    (at != nullptr && std::abs(at->value) >= kShortOverMv);
                           },
                           kSecond},
                          begun);
}

}  // namespace

bool is_boost_reading(std::string_view fact) {
  return std::find(kFacts.begin(), kFacts.end(), fact) != kFacts.end() ||
         std::ranges::any_of(kClasses, [&](const SourceClass& one) { return one.fact == fact; });
}

Timeline boost_reading(std::string_view fact, const Series& volts, const Series& amps,
                       const JobLines& lines, Begun* begun) {
  if (fact == "clamp.connected") return connected(volts, lines, begun);
  if (fact == "clamp.reversed") return reversed(volts, lines, begun);
  if (fact == "clamp.shorted") return shorted(volts, amps, lines, begun);
  if (fact == "clamp.surge")
    return lasting_timeline(amps, lines, at_least(kSurgeMa, kSecond), below(kSurgeOverMa, kSecond),
                            begun);
  if (fact == "clamp.recovered") {
    return lasting_timeline(volts, lines, at_least(kFedMv, 5 * kSecond),
                            below(kNotFedMv, 5 * kSecond), begun);
  }
  for (const SourceClass& one : kClasses) {
    if (one.fact != fact) continue;
    const auto inside = [one](const Piece& piece) {
      return piece.value >= one.from_mv && piece.value <= one.to_mv;
    };
    return lasting_timeline(volts, lines, {inside, kSecond},
                            {[inside](const Piece& piece) { return !inside(piece); }, kSecond},
                            begun);
  }
  return Timeline(Tri::kUnknown);
}

}  // namespace fairlead::judge
