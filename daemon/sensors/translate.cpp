#include "daemon/sensors/translate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

#include "daemon/base/nearest.h"
#include "daemon/base/time_text.h"
#include "daemon/base/utf8.h"
#include "daemon/record/observation_check.h"
#include "daemon/record/observation_ranges.h"

namespace fairlead::sensors {

namespace {
constexpr size_t kLongestWords = 1000;
constexpr size_t kLongestName = 64;
constexpr int64_t kLatestUs = 253'402'300'799'999'999;  // End of the year 9999.

bool is_name(std::string_view text) {
  auto fits = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '.' || c == '_' || c == '-';
  };
  return !text.empty() && text.size() <= kLongestName &&
         std::all_of(text.begin(), text.end(), fits);
}

Status check_channel(const v1::PluginChannel& channel) {
  if (!is_name(channel.source())) {
    return fail(Code::kBadInput, "source: must be a name of a-z 0-9 . _ -, at most 64 characters");
  }
  if (channel.source() == "operator" || channel.source() == "desk") {
    return fail(Code::kBadInput,
                fmt::format("source: \"{}\" is a person's; use line, deck, clamp, gps.truck, "
                            "gps.tag or an id of the plugin's own",
                            channel.source()));
  }
  if (channel.signal() == "fix") return {};
  auto range = record::range_of_signal(channel.signal());
  if (!range) {
    return fail(Code::kBadInput, fmt::format("signal: \"{}\" is unknown; did you mean \"{}\"?",
                                             tame(channel.signal(), kLongestName),
                                             nearest(channel.signal(), record::signal_names())));
  }
  bool unit_fits = channel.unit() == range->unit || (range->whole && channel.unit() == "1");
  if (!unit_fits) {
    return fail(Code::kBadInput,
                fmt::format("unit: {} is recorded in {}, not in \"{}\"; convert in the plugin",
                            channel.signal(), range->whole ? "1" : range->unit,
                            tame(channel.unit(), kLongestName)));
  }
  return {};
}

Status check_outputs(const v1::PluginDescribed& described) {
  if (described.outputs_size() > kMaxOutputs) {
    return fail(Code::kBadInput, fmt::format("outputs: {} of them; describe at most {}",
                                             described.outputs_size(), kMaxOutputs));
  }
  std::set<std::string> seen;
  for (const v1::PluginOutput& output : described.outputs()) {
    if (!is_name(output.output()) || !seen.insert(output.output()).second) {
      return fail(Code::kBadInput,
                  "outputs: each needs a name of its own of a-z 0-9 . _ -, at most 64 characters");
    }
  }
  return {};
}

v1::Observation framed(std::string_view source, int64_t wall_us, std::string_view clock) {
  v1::Observation o;
  o.set_time(format_time_us(wall_us));
  o.set_source(std::string(source));
  if (!clock.empty()) o.set_clock(std::string(clock));
  return o;
}

v1::Quality::Word known_quality(v1::Quality::Word word) {
  if (word == v1::Quality::UNSET) return v1::Quality::GOOD;
  return v1::Quality::Word_IsValid(word) ? word : v1::Quality::SUSPECT;
}

double into_range(double value, const record::SaneRange& range) {
  if (std::isnan(value)) return range.lo;
  value = std::clamp(value, range.lo, range.hi);
  return range.whole ? std::round(value) : value;
}

void put_gap(v1::Observation& o, std::string_view channel, std::string_view why) {
  o.clear_quality();
  v1::Gap& gap = *o.mutable_gap();
  gap.set_channel(std::string(channel));
  gap.set_cause(tame(why, kLongestWords));
}
}  // namespace

Status check_channels(const v1::PluginDescribed& described) {
  bool nothing = described.channels_size() == 0 && described.outputs_size() == 0;
  if (nothing || described.channels_size() > kMaxChannels) {
    return fail(Code::kBadInput, fmt::format("channels: {} of them; describe 1 to {}",
                                             described.channels_size(), kMaxChannels));
  }
  if (auto ok = check_outputs(described); !ok) return ok;
  std::set<std::pair<std::string, std::string>> seen;
  for (int i = 0; i < described.channels_size(); ++i) {
    const v1::PluginChannel& channel = described.channels(i);
    std::string where = fmt::format("channels[{}].", i);
    if (auto ok = check_channel(channel); !ok) return fail_at(where, ok.error());
    if (!seen.emplace(channel.source(), channel.signal()).second) {
      return fail(Code::kBadInput, fmt::format("{}signal: {} of {} is described twice", where,
                                               channel.signal(), channel.source()));
    }
  }
  return {};
}

Status check_batch(const v1::PluginBatch& batch, int channels) {
  if (batch.readings_size() > kMaxReadingsInBatch) {
    return fail(Code::kBadInput,
                fmt::format("batch {}: {} readings; send at most {}", batch.batch_seq(),
                            batch.readings_size(), kMaxReadingsInBatch));
  }
  for (const v1::PluginReading& r : batch.readings()) {
    if (r.channel() >= static_cast<uint32_t>(channels)) {
      return fail(Code::kBadInput, fmt::format("batch {}: channel {} was never described",
                                               batch.batch_seq(), r.channel()));
    }
    if (r.wall_us() < 0 || r.wall_us() > kLatestUs) {
      return fail(Code::kBadInput,
                  fmt::format("batch {}: wall_us {} is no time", batch.batch_seq(), r.wall_us()));
    }
    if (r.what_case() == v1::PluginReading::WHAT_NOT_SET) {
      return fail(Code::kBadInput,
                  fmt::format("batch {}: a reading without content", batch.batch_seq()));
    }
  }
  return {};
}

v1::Observation to_observation(const v1::PluginReading& reading, const v1::PluginChannel& channel,
                               std::string_view clock) {
  v1::Observation o = framed(channel.source(), reading.wall_us(), clock);
  v1::Quality::Word quality = known_quality(reading.quality());
  if (quality != v1::Quality::GOOD) o.set_quality(quality);
  bool is_fix = channel.signal() == "fix";
  switch (reading.what_case()) {
    case v1::PluginReading::kValue: {
      double value = reading.value();
      auto range = record::range_of_signal(channel.signal());
      if (quality != v1::Quality::GOOD && range) value = into_range(value, *range);
      o.mutable_sample()->set_signal(channel.signal());
      o.mutable_sample()->set_value(value);
      break;
    }
    case v1::PluginReading::kFix:
      *o.mutable_fix() = reading.fix();
      break;
    case v1::PluginReading::kGap:
      put_gap(o, channel.signal(), reading.gap().cause());
      if (reading.gap().has_lost()) o.mutable_gap()->set_lost(reading.gap().lost());
      return o;
    case v1::PluginReading::kState:
      return sensor_observation(channel.source(), channel.signal(), reading.state(),
                                reading.wall_us(), clock);
    case v1::PluginReading::WHAT_NOT_SET:
      break;
  }
  o.set_seq(1);  // Stands in for the recorder's, so that the rest can be checked.
  Status sane = o.has_fix() == is_fix
                    ? record::check_observation(o)
                    : fail(Code::kBadInput, "a reading of another kind than its channel's");
  o.clear_seq();
  if (!sane) {
    put_gap(o, channel.signal(), "reading not believed: " + sane.error().message);
    o.mutable_gap()->set_lost(1);
  }
  return o;
}

v1::Observation sensor_observation(std::string_view source, std::string_view channel,
                                   std::string_view state, int64_t wall_us,
                                   std::string_view clock) {
  v1::Observation o = framed(source, wall_us, clock);
  o.mutable_sensor()->set_channel(std::string(channel));
  o.mutable_sensor()->set_state(tame(state, kLongestWords));
  return o;
}

v1::Observation gap_observation(std::string_view source, std::string_view channel,
                                std::string_view cause, int64_t wall_us, std::string_view clock) {
  v1::Observation o = framed(source, wall_us, clock);
  put_gap(o, channel, cause);
  return o;
}

v1::Observation alive_observation(std::string_view source, int64_t wall_us,
                                  std::string_view clock) {
  v1::Observation o = framed(source, wall_us, clock);
  o.mutable_alive();
  return o;
}

std::string tame(std::string_view text, size_t longest) {
  std::string out(text.substr(0, longest));
  bool cut = text.size() > longest;
  // A cut may fall inside a character: take its head off again.
  while (cut && !out.empty() && (static_cast<unsigned char>(out.back()) & 0xC0) == 0x80) {
    out.pop_back();
  }
  if (cut && !out.empty() && static_cast<unsigned char>(out.back()) >= 0xC0) out.pop_back();
  bool valid = code_points(out).has_value();
  for (char& c : out) {
    bool high = (static_cast<unsigned char>(c) & 0x80) != 0;
    bool control = static_cast<unsigned char>(c) < 0x20 || c == 0x7F;
    if (control || (high && !valid)) c = '?';
  }
  return out.empty() ? "?" : out;
}

}  // namespace fairlead::sensors
