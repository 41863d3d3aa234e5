#include "daemon/record/observation_check.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>

#include "daemon/record/observation_ranges.h"
#include "daemon/record/observation_words.h"

namespace fairlead::record {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;
using google::protobuf::Reflection;

// These describe a source or belong to every job open at their time.
constexpr std::array kJobless = {v1::Observation::kSample,      v1::Observation::kFix,
                                 v1::Observation::kAlive,       v1::Observation::kGap,
                                 v1::Observation::kClockOffset, v1::Observation::kSensor};

std::unexpected<Error> bad(const std::string& path, const std::string& words) {
  return fail(Code::kBadInput, path + ": " + words);
}

Status check_range(const std::string& path, double value, const SaneRange& range) {
  if (!(value >= range.lo && value <= range.hi)) {
    return bad(path, fmt::format("{} is outside {} to {} {}; check the value and its unit", value,
                                 range.lo, range.hi, range.unit));
  }
  if (range.whole && value != std::floor(value)) {
    return bad(path, fmt::format("{} is not a whole number {}; write 0 or 1", value, range.unit));
  }
  return {};
}

Status check_number(const std::string& path, double value, const FieldDescriptor& field) {
  if (!std::isfinite(value)) return bad(path, "is not a finite number; write a plain number");
  const auto range = range_of_field(field.containing_type()->name(), field.name());
  return range ? check_range(path, value, *range) : Status{};
}

Status check_enum(const std::string& path, int number, const FieldDescriptor& field) {
  const auto* value = field.enum_type()->FindValueByNumber(number);
  if (value != nullptr && number != 0) return {};
  const auto wrong = enum_number(*field.enum_type(), "");
  return bad(path,
             "holds no known word" + wrong.error().message.substr(wrong.error().message.find(';')));
}

Status check_message(const std::string& prefix, const Message& message);

// One value of a field; `index` < 0 for a single one.
Status check_value(const std::string& path, const Message& message, const FieldDescriptor& field,
                   int index) {
  const Reflection& r = *message.GetReflection();
  std::string scratch;
  switch (field.cpp_type()) {
    case FieldDescriptor::CPPTYPE_STRING: {
      const std::string& text =
          index < 0 ? r.GetStringReference(message, &field, &scratch)
                    : r.GetRepeatedStringReference(message, &field, index, &scratch);
      const auto checked = check_text(field, text);
      return checked ? Status{} : bad(path, checked.error().message);
    }
    case FieldDescriptor::CPPTYPE_DOUBLE:
      return check_number(path, r.GetDouble(message, &field), field);
    case FieldDescriptor::CPPTYPE_UINT32:
      return check_number(path, r.GetUInt32(message, &field), field);
    case FieldDescriptor::CPPTYPE_ENUM:
      return check_enum(path,
                        index < 0 ? r.GetEnumValue(message, &field)
                                  : r.GetRepeatedEnumValue(message, &field, index),
                        field);
    case FieldDescriptor::CPPTYPE_MESSAGE:
      return check_message(path + ".", index < 0 ? r.GetMessage(message, &field)
                                                 : r.GetRepeatedMessage(message, &field, index));
    default:
      return {};  // bool and uint64: every value is sane.
  }
}

Status check_field(const std::string& path, const Message& message, const FieldDescriptor& field) {
  const Reflection& r = *message.GetReflection();
  if (field.is_repeated()) {
    for (int i = 0; i < r.FieldSize(message, &field); ++i) {
      const auto checked = check_value(fmt::format("{}[{}]", path, i), message, field, i);
      if (!checked) return checked;
    }
    return {};
  }
  if (field.has_presence() && !r.HasField(message, &field)) return {};
  return check_value(path, message, field, -1);
}

Status check_message(const std::string& prefix, const Message& message) {
  const auto& type = *message.GetDescriptor();
  for (int i = 0; i < type.field_count(); ++i) {
    const FieldDescriptor& field = *type.field(i);
    const auto checked = check_field(prefix + field.json_name(), message, field);
    if (!checked) return checked;
  }
  return {};
}

Status check_whole(const v1::Observation& o) {
  if (o.kind_case() == v1::Observation::KIND_NOT_SET) {
    return bad("line", "has no kind; add exactly one, such as \"note\" or \"sample\"");
  }
  const bool jobless = std::ranges::find(kJobless, o.kind_case()) != kJobless.end();
  if (o.job().empty() && !jobless) {
    return bad("job", fmt::format("is missing; a {} belongs to a job, name it", kind_name(o)));
  }
  if (!o.has_sample()) return {};
  return check_range("sample.value", o.sample().value(), *range_of_signal(o.sample().signal()));
}

}  // namespace

std::string_view kind_name(const v1::Observation& observation) {
  const auto* field = v1::Observation::descriptor()->FindFieldByNumber(observation.kind_case());
  return field == nullptr ? std::string_view() : std::string_view(field->json_name());
}

Status check_observation(const v1::Observation& observation) {
  const auto checked = check_message("", observation);
  return checked ? check_whole(observation) : checked;
}

}  // namespace fairlead::record
