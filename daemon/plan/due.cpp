#include "daemon/plan/due.h"

#include <fmt/format.h>

namespace fairlead::plan {
namespace {

constexpr int64_t kDayUs = 86'400'000'000;

DueItem gear_due(const judge::GearItem& item, int64_t at_us, int64_t then_us) {
  const v1::Gear& text = item.text;
  DueItem out{"gear", text.id(), text.truck(), Due::kInOrder, ""};
  const physics::DefectFinding now = item.counting(at_us), then = item.counting(then_us);
  if (now.counts != physics::Verdict::kMet) {
    out.due = now.counts == physics::Verdict::kDeviated ? Due::kNotCounted : Due::kUnproven;
    out.words = now.why;
  } else if (then.counts != physics::Verdict::kMet) {
    out.due = Due::kSoon;
    out.words = item.out_of_service_us && then_us >= *item.out_of_service_us
                    ? "it goes out of service on " + text.out_of_service()
                    : "its inspection is due by " + text.inspect_by();
  } else if (!text.inspect_by().empty()) {
    out.words = "its inspection is due by " + text.inspect_by();
  }
  return out;
}

DueItem sensor_due(const judge::SensorItem& item, int64_t at_us, int64_t then_us) {
  const v1::Sensor& text = item.text;
  DueItem out{"sensor", text.id(), text.truck(), Due::kInOrder, ""};
  const auto valid = [&](int64_t time_us) {
    return !item.valid_until_us || time_us < *item.valid_until_us + kDayUs;
  };
  if (text.certificate().empty()) {
    out.due = Due::kUnproven;
    out.words = "no certificate on file";
  } else if (item.valid_from_us && at_us < *item.valid_from_us) {
    out.due = Due::kNotCounted;
    out.words = fmt::format("certificate {} holds from {}", text.certificate(), text.valid_from());
  } else {
    out.due = !valid(at_us) ? Due::kNotCounted : !valid(then_us) ? Due::kSoon : Due::kInOrder;
    out.words = text.valid_until().empty()
                    ? fmt::format("certificate {} names no end", text.certificate())
                    : fmt::format("certificate {} {} {}", text.certificate(),
                                  valid(at_us) ? "holds until" : "held until", text.valid_until());
  }
  return out;
}

}  // namespace

std::string_view word_of(Due due) {
  switch (due) {
    case Due::kInOrder:
      return "in order";
    case Due::kSoon:
      return "due soon";
    case Due::kNotCounted:
      return "not counted";
    case Due::kUnproven:
      return "unproven";
  }
  return "";
}

std::vector<DueItem> register_due(const judge::RegisterBook& book, int64_t at_us, int days) {
  const int64_t then_us = at_us + days * kDayUs;
  std::vector<DueItem> out;
  for (const auto& [id, item] : book.gear_items()) out.push_back(gear_due(item, at_us, then_us));
  for (const judge::SensorItem& item : book.all_sensors())
    out.push_back(sensor_due(item, at_us, then_us));
  return out;
}

}  // namespace fairlead::plan
