#include <fmt/format.h>

#include <algorithm>

#include "daemon/base/time_text.h"
#include "daemon/record/entry.h"
#include "daemon/record/observation_check.h"
#include "daemon/record/observation_ranges.h"
#include "daemon/record/strip.h"
#include "daemon/record/strip_column.h"

namespace fairlead::record {
namespace {

constexpr int kMostChannels = 256;
constexpr double kMostUs = 253'402'300'799'999'999.0;  // 9999-12-31T23:59:59.999999Z.

// What a column must hold for the channel to be one encode_strip writes.
struct Wanted {
  std::string_view name;
  const v1::StripColumn& column;
  std::vector<int64_t>& out;
  bool needed;    // False: may be empty (not said).
  double lo, hi;  // In counts.
};

Status bad(const std::string& path, std::string_view words) {
  return fail(Code::kBadInput, fmt::format("{}: {}", path, words));
}

Status read_column(const std::string& path, const Wanted& wanted, size_t lines) {
  auto values = unpack_column(wanted.column);
  const std::string where = fmt::format("{}.{}", path, wanted.name);
  if (!values) return bad(where, "has an unknown order; use 0, 1 or 2");
  if (values->size() != lines && (wanted.needed || !values->empty())) {
    return bad(where, fmt::format("has {} numbers; give {}, one a line", values->size(), lines));
  }
  for (const int64_t value : *values) {
    if (static_cast<double>(value) < wanted.lo || static_cast<double>(value) > wanted.hi) {
      return bad(where, fmt::format("{} is outside {} to {}; check the sensor", value, wanted.lo,
                                    wanted.hi));
    }
  }
  wanted.out = std::move(*values);
  return {};
}

// A range in the signal's unit as counts of its resolution.
Wanted in_range(std::string_view name, const v1::StripColumn& column, std::vector<int64_t>& out,
                bool needed, const SaneRange& range, double resolution) {
  return {name,
          column,
          out,
          needed,
          static_cast<double>(quantised_count(range.lo, resolution)),
          static_cast<double>(quantised_count(range.hi, resolution))};
}

Status read_columns(const std::string& path, const v1::StripChannel& channel, StripLane& lane) {
  const auto lines = static_cast<size_t>(channel.seq().step_size());
  const auto fix = [&](std::string_view name, const v1::StripColumn& column,
                       std::vector<int64_t>& out, bool needed, double resolution) {
    return in_range(name, column, out, needed, *range_of_field("Fix", name), resolution);
  };
  std::vector<Wanted> wanted = {
      {"seq", channel.seq(), lane.seq, true, 1, 4'294'967'295.0},
      {"time_us", channel.time_us(), lane.time_us, true, 0, kMostUs},
      in_range("time_uncertainty_us", channel.time_uncertainty_us(), lane.time_uncertainty_us,
               false, *range_of_field("Observation", "time_uncertainty_ms"), 0.001),
      {"received_after_us", channel.received_after_us(), lane.received_after_us, false, -kMostUs,
       kMostUs}};
  if (!lane.signal.empty()) {
    wanted.push_back(in_range("value", channel.value(), lane.value, true,
                              *range_of_signal(lane.signal), lane.resolution));
  } else {
    wanted.push_back(fix("lat_deg", channel.lat_e7(), lane.lat_e7, true, 1e-7));
    wanted.push_back(fix("lon_deg", channel.lon_e7(), lane.lon_e7, true, 1e-7));
    wanted.push_back(fix("speed_mps", channel.speed_mmps(), lane.speed_mmps, true, 0.001));
    wanted.push_back(fix("course_deg", channel.course_cdeg(), lane.course_cdeg, false, 0.01));
    wanted.push_back(fix("h_sd_m", channel.h_sd_mm(), lane.h_sd_mm, true, 0.001));
    wanted.push_back(
        fix("speed_sd_mps", channel.speed_sd_mmps(), lane.speed_sd_mmps, false, 0.001));
    wanted.push_back(fix("mode", channel.mode(), lane.mode, true, 1));
  }
  for (const auto& column : wanted) {
    if (const auto read = read_column(path, column, lines); !read) return read;
  }
  for (size_t i = 0; i < lane.received_after_us.size(); ++i) {
    const int64_t received_us = lane.time_us[i] + lane.received_after_us[i];
    if (received_us < 0 || static_cast<double>(received_us) > kMostUs) {
      return bad(path + ".received_after_us", "leaves the years 1970 to 9999; check the clock");
    }
  }
  return {};
}

Result<StripLane> read_channel(const std::string& path, const std::string& source,
                               const v1::StripChannel& channel) {
  StripLane lane;
  lane.source = source;
  lane.signal = channel.signal();
  lane.job = channel.job();
  if (channel.has_clock()) lane.clock = channel.clock();
  if (channel.has_quality()) {
    if (channel.quality() == 0 || !v1::Quality::Word_IsValid(static_cast<int>(channel.quality()))) {
      return fail(Code::kBadInput,
                  path + ".quality: is no known word; use one of observation.proto");
    }
    lane.quality = static_cast<v1::Quality::Word>(channel.quality());
  }
  if (!lane.signal.empty()) {
    const auto resolution = resolution_of_signal(lane.signal);
    if (!resolution) return fail(Code::kBadInput, path + ".signal: is not known; name a known one");
    if (channel.value_resolution() != *resolution) {
      return fail(Code::kBadInput, fmt::format("{}.value_resolution: is {}; declare {}", path,
                                               channel.value_resolution(), *resolution));
    }
    lane.resolution = *resolution;
  }
  if (channel.seq().step().empty()) {
    return fail(Code::kBadInput, path + ".seq: is empty; leave the channel out");
  }
  if (const auto read = read_columns(path, channel, lane); !read)
    return std::unexpected(read.error());
  return lane;
}

v1::Observation line_of(const StripLane& lane, size_t i) {
  v1::Observation o;
  o.set_time(format_time_us(lane.time_us[i]));
  o.set_job(lane.job);
  o.set_source(lane.source);
  o.set_seq(static_cast<uint32_t>(lane.seq[i]));
  if (!lane.time_uncertainty_us.empty()) {
    o.set_time_uncertainty_ms(static_cast<double>(lane.time_uncertainty_us[i]) / 1e3);
  }
  if (lane.clock) o.set_clock(*lane.clock);
  if (!lane.received_after_us.empty()) {
    o.set_received(format_time_us(lane.time_us[i] + lane.received_after_us[i]));
  }
  if (lane.quality) o.set_quality(*lane.quality);
  if (!lane.signal.empty()) {
    o.mutable_sample()->set_signal(lane.signal);
    // Dividing by the whole number gives the double nearest to the decimal.
    const double per_unit = static_cast<double>(quantised_count(1.0, lane.resolution));
    o.mutable_sample()->set_value(static_cast<double>(lane.value[i]) / per_unit);
    return o;
  }
  v1::Fix& fix = *o.mutable_fix();
  fix.set_lat_deg(static_cast<double>(lane.lat_e7[i]) / 1e7);
  fix.set_lon_deg(static_cast<double>(lane.lon_e7[i]) / 1e7);
  fix.set_speed_mps(static_cast<double>(lane.speed_mmps[i]) / 1e3);
  if (!lane.course_cdeg.empty()) fix.set_course_deg(static_cast<double>(lane.course_cdeg[i]) / 1e2);
  fix.set_h_sd_m(static_cast<double>(lane.h_sd_mm[i]) / 1e3);
  if (!lane.speed_sd_mmps.empty()) {
    fix.set_speed_sd_mps(static_cast<double>(lane.speed_sd_mmps[i]) / 1e3);
  }
  fix.set_mode(static_cast<uint32_t>(lane.mode[i]));
  return o;
}

}  // namespace

Result<std::vector<StripLane>> strip_lanes(std::string_view bytes) {
  v1::StripBody body;
  if (bytes.size() > kMaxBodySize ||
      !body.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()))) {
    return fail(Code::kBadInput, "strip: is not a strip's bytes; send the body as it was signed");
  }
  std::vector<StripLane> lanes;
  size_t lines = 0;
  for (int s = 0; s < body.source_size(); ++s) {
    const auto& source = body.source(s);
    for (int c = 0; c < source.channel_size(); ++c) {
      lines += static_cast<size_t>(source.channel(c).seq().step_size());
      if (lanes.size() >= kMostChannels || lines > kMostStripLines) {
        return fail(Code::kBadInput, "strip: has too many channels or lines; split the span");
      }
      auto lane = read_channel(fmt::format("strip.source[{}].channel[{}]", s, c), source.source(),
                               source.channel(c));
      if (!lane) return std::unexpected(lane.error());
      // One line stands for all that the channel's lines share: source, job, clock.
      if (const auto sane = check_observation(line_of(*lane, 0)); !sane) {
        return fail_at(fmt::format("strip.source[{}].channel[{}].", s, c), sane.error());
      }
      const int64_t first = *std::ranges::min_element(lane->seq);
      if (first < source.first_seq()) {
        return fail(
            Code::kBadInput,
            fmt::format("strip.source[{}].first_seq: is above {}; give the smallest", s, first));
      }
      lanes.push_back(std::move(*lane));
    }
  }
  return lanes;
}

Result<std::vector<v1::Observation>> decode_strip(std::string_view body,
                                                  bool (*wanted)(const StripLane& lane)) {
  const auto lanes = strip_lanes(body);
  if (!lanes) return std::unexpected(lanes.error());
  std::vector<v1::Observation> lines;
  for (size_t from = 0; from < lanes->size();) {
    size_t to = from;
    const size_t start = lines.size();
    for (; to < lanes->size() && (*lanes)[to].source == (*lanes)[from].source; ++to) {
      const StripLane& lane = (*lanes)[to];
      if (wanted != nullptr && !wanted(lane)) continue;
      for (size_t i = 0; i < lane.seq.size(); ++i) lines.push_back(line_of(lane, i));
    }
    std::stable_sort(lines.begin() + static_cast<std::ptrdiff_t>(start), lines.end(),
                     [](const auto& a, const auto& b) { return a.seq() < b.seq(); });
    from = to;
  }
  return lines;
}

}  // namespace fairlead::record
