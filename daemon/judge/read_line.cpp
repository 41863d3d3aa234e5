#include "daemon/judge/read_line.h"

#include <optional>

#include "daemon/base/time_text.h"
#include "daemon/record/merkle.h"

namespace fairlead::judge {
namespace {

using v1::Observation;

struct Reading {
  std::string_view quantity;
  double value;
};

// The reading a line gives, in SI.
std::optional<Reading> reading_of(const Observation& line) {
  switch (line.kind_case()) {
    case Observation::kSample:
      return Reading{line.sample().signal(), line.sample().value()};
    case Observation::kFix:
      if (line.source() == "gps.tag") return Reading{"vehicle.speed", line.fix().speed_mps()};
      if (line.source() == "gps.truck") return Reading{"truck.speed", line.fix().speed_mps()};
      return std::nullopt;
    case Observation::kHeat:
      return Reading{"battery.temp", line.heat().celsius()};
    case Observation::kDeck:
      if (!line.deck().has_tilt_deg()) return std::nullopt;
      return Reading{"deck.tilt", line.deck().tilt_deg()};
    case Observation::kRigging:
      if (!line.rigging().on() || !line.rigging().has_legs_angle_deg()) return std::nullopt;
      return Reading{"rigging.legs_angle", line.rigging().legs_angle_deg()};
    case Observation::kIsolation:
      return Reading{"isolation.distance", line.isolation().metres()};
    case Observation::kSourcePower:
      return Reading{"source.nominal", line.source_power().nominal_volts()};
    default:
      return std::nullopt;
  }
}

}  // namespace

int Names::number(std::string_view name) {
  if (last_ != kNoName && names_[static_cast<size_t>(last_)] == name) return last_;
  last_ = known(name);
  if (last_ != kNoName) return last_;
  last_ = static_cast<int>(names_.size());
  names_.emplace_back(name);
  numbers_.emplace(names_.back(), last_);
  return last_;
}

int Names::known(std::string_view name) const {
  const auto found = numbers_.find(name);
  return found == numbers_.end() ? kNoName : found->second;
}

std::string content_of(const Observation& line) {
  if (!line.has_received()) return line.SerializeAsString();
  Observation copy = line;
  copy.clear_received();
  return copy.SerializeAsString();
}

// As a truck says them: the time in full, nothing stated about its uncertainty or quality.
Observation LineReader::sample_of(const ReadLine& line) const {
  Observation sample;
  sample.set_time(format_time_us(line.time_us));
  sample.set_job(jobs.name(line.job));
  sample.set_source(sources.name(line.source));
  sample.set_seq(line.seq);
  if (line.clock != own_clock_[static_cast<size_t>(line.source)])
    sample.set_clock(clocks.name(line.clock));
  sample.mutable_sample()->set_signal(quantities.name(line.quantity));
  sample.mutable_sample()->set_value(line.value);
  return sample;
}

bool LineReader::let_go(ReadLine& line) {
  if (line.kind != Observation::kSample) return false;
  own_clock_.resize(sources.size(), kNoName);
  if (content_of(*line.observation) != sample_of(line).SerializeAsString()) return false;
  line.observation = nullptr;
  return true;
}

ReadLine LineReader::read(const Observation& line) {
  ReadLine out;
  out.observation = &line;
  out.time_us = parse_time_us(line.time()).value_or(0);
  if (line.has_time_uncertainty_ms()) out.stated_u_us = ms_to_us_up(line.time_uncertainty_ms());
  if (line.has_received()) {
    bytes_ = content_of(line);
  } else {
    bytes_.clear();
    line.AppendToString(&bytes_);
  }
  out.leaf = record::merkle_leaf_hash(bytes_);
  out.source = sources.number(line.source());
  if (line.has_clock()) {
    out.clock = clocks.number(line.clock());
  } else {
    own_clock_.resize(sources.size(), kNoName);
    int& own = own_clock_[static_cast<size_t>(out.source)];
    if (own == kNoName) own = clocks.number("source " + line.source());
    out.clock = own;
  }
  out.job = jobs.number(line.job());
  out.seq = line.seq();
  out.kind = line.kind_case();
  out.good = !line.has_quality() || line.quality() == v1::Quality::GOOD;
  if (const auto reading = reading_of(line)) {
    out.quantity = quantities.number(reading->quantity);
    out.value = reading->value;
  }
  return out;
}

}  // namespace fairlead::judge
