#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <tuple>

#include "daemon/base/time_text.h"
#include "daemon/record/observation_ranges.h"
#include "daemon/record/strip.h"
#include "daemon/record/strip_column.h"

namespace fairlead::record {
namespace {

// Everything that must be the same for two lines to share columns.
struct Circumstances {
  std::string source, signal, job;
  std::optional<std::string> clock;
  std::optional<int> quality;
  bool has_uncertainty, has_received, has_course, has_speed_sd;
  auto operator<=>(const Circumstances&) const = default;
};

Circumstances circumstances_of(const v1::Observation& o) {
  Circumstances c{o.source(),
                  o.has_sample() ? o.sample().signal() : "",
                  o.job(),
                  {},
                  {},
                  o.has_time_uncertainty_ms(),
                  o.has_received(),
                  false,
                  false};
  if (o.has_clock()) c.clock = o.clock();
  if (o.has_quality()) c.quality = o.quality();
  if (o.has_fix()) {
    c.has_course = o.fix().has_course_deg();
    c.has_speed_sd = o.fix().has_speed_sd_mps();
  }
  return c;
}

Status add_numbers(StripLane& lane, const v1::Observation& o) {
  const auto time_us = parse_time_us(o.time());
  if (!time_us) return fail_at("time: ", time_us.error());
  lane.seq.push_back(o.seq());
  lane.time_us.push_back(*time_us);
  if (o.has_time_uncertainty_ms()) {
    lane.time_uncertainty_us.push_back(quantised_count(o.time_uncertainty_ms(), 0.001));
  }
  if (o.has_received()) {
    const auto received_us = parse_time_us(o.received());
    if (!received_us) return fail_at("received: ", received_us.error());
    lane.received_after_us.push_back(*received_us - *time_us);
  }
  if (o.has_sample()) {
    lane.value.push_back(quantised_count(o.sample().value(), lane.resolution));
    return {};
  }
  const v1::Fix& fix = o.fix();
  lane.lat_e7.push_back(quantised_count(fix.lat_deg(), 1e-7));
  lane.lon_e7.push_back(quantised_count(fix.lon_deg(), 1e-7));
  lane.speed_mmps.push_back(quantised_count(fix.speed_mps(), 0.001));
  if (fix.has_course_deg()) lane.course_cdeg.push_back(quantised_count(fix.course_deg(), 0.01));
  lane.h_sd_mm.push_back(quantised_count(fix.h_sd_m(), 0.001));
  if (fix.has_speed_sd_mps()) {
    lane.speed_sd_mmps.push_back(quantised_count(fix.speed_sd_mps(), 0.001));
  }
  lane.mode.push_back(fix.mode());
  return {};
}

void pack_channel(const StripLane& lane, v1::StripChannel& out) {
  out.set_signal(lane.signal);
  out.set_job(lane.job);
  if (lane.clock) out.set_clock(*lane.clock);
  if (lane.quality) out.set_quality(static_cast<uint32_t>(*lane.quality));
  pack_column(lane.seq, *out.mutable_seq());
  pack_column(lane.time_us, *out.mutable_time_us());
  const auto pack = [](const std::vector<int64_t>& values, auto&& column) {
    if (!values.empty()) pack_column(values, *column());
  };
  pack(lane.time_uncertainty_us, [&] { return out.mutable_time_uncertainty_us(); });
  pack(lane.received_after_us, [&] { return out.mutable_received_after_us(); });
  if (!lane.signal.empty()) out.set_value_resolution(lane.resolution);
  pack(lane.value, [&] { return out.mutable_value(); });
  pack(lane.lat_e7, [&] { return out.mutable_lat_e7(); });
  pack(lane.lon_e7, [&] { return out.mutable_lon_e7(); });
  pack(lane.speed_mmps, [&] { return out.mutable_speed_mmps(); });
  pack(lane.course_cdeg, [&] { return out.mutable_course_cdeg(); });
  pack(lane.h_sd_mm, [&] { return out.mutable_h_sd_mm(); });
  pack(lane.speed_sd_mmps, [&] { return out.mutable_speed_sd_mmps(); });
  pack(lane.mode, [&] { return out.mutable_mode(); });
}

}  // namespace

Result<std::string> encode_strip(std::span<const v1::Observation> observations) {
  if (observations.size() > kMostStripLines) {
    return fail(Code::kBadInput, fmt::format("strip: {} lines; pack at most {} in one",
                                             observations.size(), kMostStripLines));
  }
  std::map<Circumstances, StripLane> lanes;
  for (const auto& o : observations) {
    if (!o.has_sample() && !o.has_fix()) {
      return fail(Code::kBadInput, "strip: holds another kind; pack only samples and fixes");
    }
    const auto circumstances = circumstances_of(o);
    auto& lane = lanes[circumstances];
    lane.signal = circumstances.signal;
    lane.job = circumstances.job;
    lane.clock = circumstances.clock;
    if (o.has_quality()) lane.quality = o.quality();
    if (o.has_sample()) {
      const auto resolution = resolution_of_signal(lane.signal);
      if (!resolution)
        return fail(Code::kBadInput, "sample.signal: is not known; name a known one");
      lane.resolution = *resolution;
    }
    if (const auto added = add_numbers(lane, o); !added) return std::unexpected(added.error());
  }
  v1::StripBody body;
  for (const auto& [circumstances, lane] : lanes) {  // Sorted: sources stand together.
    if (body.source().empty() || body.source().rbegin()->source() != circumstances.source) {
      body.add_source()->set_source(circumstances.source);
    }
    auto& source = *body.mutable_source()->rbegin();
    const auto first = static_cast<uint32_t>(*std::ranges::min_element(lane.seq));
    if (source.channel().empty() || first < source.first_seq()) source.set_first_seq(first);
    pack_channel(lane, *source.add_channel());
  }
  return body.SerializeAsString();
}

v1::Observation quantised(const v1::Observation& observation) {
  const auto body = encode_strip({&observation, 1});
  if (!body) return observation;
  const auto back = decode_strip(*body);
  return back && back->size() == 1 ? back->front() : observation;
}

}  // namespace fairlead::record
