#include "daemon/judge/instrument_boost.h"

#include <algorithm>
#include <array>
#include <cstdlib>

#include "daemon/judge/instrument_lasting.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kVolt = 1000, kAmp = 1000;  // Stored as mV, mA.
constexpr int64_t kSecond = 1'000'000, kAtOnce = 200'000;

struct SourceClass {
  std::string_view fact;
  int64_t from_mv, to_mv;
};
constexpr std::array kClasses{SourceClass{"source.class:12", 9 * kVolt, 16 * kVolt},
                              SourceClass{"source.class:24", 20 * kVolt, 32 * kVolt},
                              SourceClass{"source.class:48", 36 * kVolt, 60 * kVolt}};
constexpr std::array<std::string_view, 5> kFacts{"clamp.connected", "clamp.reversed",
                                                 "clamp.shorted", "clamp.surge", "clamp.recovered"};

Lasting at_least(int64_t value, int64_t for_us) {
  return {[=](const Piece& piece) { return piece.value >= value; }, for_us};
}
Lasting below(int64_t value, int64_t for_us) {
  return {[=](const Piece& piece) { return piece.value < value; }, for_us};
}

Timeline connected(const Series& volts, const JobLines& lines) {
  return lasting_timeline(
      volts, lines,
      {[](const Piece& piece) { return std::abs(piece.value) >= 3 * kVolt; }, kSecond},
      {[](const Piece& piece) { return std::abs(piece.value) < kVolt; }, kSecond});
}

Timeline reversed(const Series& volts, const JobLines& lines) {
  return lasting_timeline(volts, lines,
                          {[](const Piece& piece) { return piece.value <= -kVolt; }, kAtOnce},
                          {[](const Piece& piece) { return piece.value > -kVolt / 2; }, kSecond});
}

Timeline shorted(const Series& volts, const Series& amps, const JobLines& lines) {
  if (volts.pieces.empty()) return Timeline(Tri::kUnknown);
  const auto volts_at = [&](const Piece& piece) { return volts.at(piece.from_us); };
  return lasting_timeline(amps, lines,
                          {[&](const Piece& piece) {
                             const Piece* at = volts_at(piece);
                             return std::abs(piece.value) >= 50 * kAmp && at != nullptr &&
                                    std::abs(at->value) < 2 * kVolt;
                           },
                           kAtOnce},
                          {[&](const Piece& piece) {
                             const Piece* at = volts_at(piece);
                             return std::abs(piece.value) < 10 * kAmp ||
                                    (at != nullptr && std::abs(at->value) >= 3 * kVolt);
                           },
                           kSecond});
}

}  // namespace

bool is_boost_reading(std::string_view fact) {
  return std::find(kFacts.begin(), kFacts.end(), fact) != kFacts.end() ||
         std::ranges::any_of(kClasses, [&](const SourceClass& one) { return one.fact == fact; });
}

Timeline boost_reading(std::string_view fact, const Series& volts, const Series& amps,
                       const JobLines& lines) {
  if (fact == "clamp.connected") return connected(volts, lines);
  if (fact == "clamp.reversed") return reversed(volts, lines);
  if (fact == "clamp.shorted") return shorted(volts, amps, lines);
  if (fact == "clamp.surge")
    return lasting_timeline(amps, lines, at_least(20 * kAmp, kSecond), below(10 * kAmp, kSecond));
  if (fact == "clamp.recovered") {
    return lasting_timeline(volts, lines, at_least(13 * kVolt + 200, 5 * kSecond),
                            below(13 * kVolt - 200, 5 * kSecond));
  }
  for (const SourceClass& one : kClasses) {
    if (one.fact != fact) continue;
    const auto inside = [one](const Piece& piece) {
      return piece.value >= one.from_mv && piece.value <= one.to_mv;
    };
    return lasting_timeline(volts, lines, {inside, kSecond},
                            {[inside](const Piece& piece) { return !inside(piece); }, kSecond});
  }
  return Timeline(Tri::kUnknown);
}

}  // namespace fairlead::judge
