// The body of a STRIP entry: samples and fixes of one device over a short span, several sources and
// signals, column by column in whole numbers of the declared resolution, differences packed as
// varints. Lossless to that resolution: what comes back judges exactly as what went in.
//
// Threads: pure functions. Units: in the names. Memory: bounded by the body's cap, 61,440 bytes.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/result.h"
#include "fairlead/v1/observation.pb.h"

namespace fairlead::record {

/// Most lines one strip may hold.
constexpr size_t kMostStripLines = 8'192;

/// Columns of a channel, all of one length but for those that were not said (empty). For readers
/// that want numbers without the cost of a message a line.
struct StripLane {
  std::string source;
  std::string signal;  // Empty: fixes.
  std::string job;
  std::optional<std::string> clock;
  std::optional<v1::Quality::Word> quality;
  std::vector<int64_t> seq, time_us, time_uncertainty_us, received_after_us;
  double resolution = 1;       // Of `value`, in the signal's unit.
  std::vector<int64_t> value;  // Samples.
  std::vector<int64_t> lat_e7, lon_e7, speed_mmps, course_cdeg, h_sd_mm, speed_sd_mmps, mode;
};

/// The observation as a strip gives it back: time and numbers in their resolution, times written
/// the one way. Only for samples and fixes that check_observation accepts.
[[nodiscard]] v1::Observation quantised(const v1::Observation& observation);

/// Packs samples and fixes; other kinds, or more than kMostStripLines: kBadInput. The body may come
/// out larger than an entry allows; the packer then splits the span.
[[nodiscard]] Result<std::string> encode_strip(std::span<const v1::Observation> observations);

/// Errors: kBadInput, "strip.source[i].channel[k]....: what; what to do", for anything encode_strip
/// would not have written or a value outside its sane range. Nothing is allocated beyond what the
/// body's own size pays for.
[[nodiscard]] Result<std::vector<StripLane>> strip_lanes(std::string_view body);

/// The lines of a strip, source by source in the order of their seq. With `wanted` only those of
/// the lanes it says yes to; what is refused is the same.
[[nodiscard]] Result<std::vector<v1::Observation>> decode_strip(
    std::string_view body, bool (*wanted)(const StripLane& lane) = nullptr);

}  // namespace fairlead::record
