#include <array>
#include <charconv>

#include "daemon/record/json_tree.h"
#include "daemon/record/observation_json.h"
#include "daemon/record/observation_words.h"

namespace fairlead::record {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;
using google::protobuf::Reflection;

template <typename Number>
void put_number(std::string& out, Number value) {
  std::array<char, 32> text{};
  const auto done = std::to_chars(text.data(), text.data() + text.size(), value);
  out.append(text.data(), done.ptr);
}

void put_text(std::string& out, const std::string& text) {
  // Replacing what is not UTF-8 keeps this total; checked observations hold none.
  out += nlohmann::json(text).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

void put_word(std::string& out, const FieldDescriptor& field, int number) {
  const auto* value = field.enum_type()->FindValueByNumber(number);
  out += '"';
  out += value == nullptr ? std::string_view("UNSET") : enum_word(*value);
  out += '"';
}

void put_message(std::string& out, const Message& message);

void put_value(std::string& out, const Message& message, const FieldDescriptor& field, int index) {
  const Reflection& r = *message.GetReflection();
  const bool one = index < 0;
  std::string scratch;
  switch (field.cpp_type()) {
    case FieldDescriptor::CPPTYPE_STRING:
      put_text(out, one ? r.GetStringReference(message, &field, &scratch)
                        : r.GetRepeatedStringReference(message, &field, index, &scratch));
      break;
    case FieldDescriptor::CPPTYPE_ENUM:
      put_word(
          out, field,
          one ? r.GetEnumValue(message, &field) : r.GetRepeatedEnumValue(message, &field, index));
      break;
    case FieldDescriptor::CPPTYPE_DOUBLE:
      put_number(out, r.GetDouble(message, &field));
      break;
    case FieldDescriptor::CPPTYPE_UINT32:
      put_number(out, r.GetUInt32(message, &field));
      break;
    case FieldDescriptor::CPPTYPE_UINT64:
      put_number(out, r.GetUInt64(message, &field));
      break;
    case FieldDescriptor::CPPTYPE_BOOL:
      out += r.GetBool(message, &field) ? "true" : "false";
      break;
    default:
      put_message(
          out, one ? r.GetMessage(message, &field) : r.GetRepeatedMessage(message, &field, index));
  }
}

// Plain fields are always written: inside a kind they are required. Absent: what has presence and
// is unset, the two lists that may be left out, and an empty job.
bool is_written(const Message& message, const FieldDescriptor& field) {
  const Reflection& r = *message.GetReflection();
  if (field.is_repeated()) {
    return r.FieldSize(message, &field) > 0 ||
           (field.name() != "first_seq" && field.name() != "limits");
  }
  if (field.has_presence() || field.name() == "job") return r.HasField(message, &field);
  return true;
}

void put_message(std::string& out, const Message& message) {
  const auto& type = *message.GetDescriptor();
  const Reflection& r = *message.GetReflection();
  char before = '{';
  for (int i = 0; i < type.field_count(); ++i) {
    const FieldDescriptor& field = *type.field(i);
    if (!is_written(message, field)) continue;
    out += before;
    before = ',';
    out += '"' + field.json_name() + "\":";
    if (!field.is_repeated()) {
      put_value(out, message, field, -1);
      continue;
    }
    out += '[';
    for (int k = 0; k < r.FieldSize(message, &field); ++k) {
      if (k > 0) out += ',';
      put_value(out, message, field, k);
    }
    out += ']';
  }
  out += before == '{' ? "{}" : "}";
}

}  // namespace

std::string observation_to_line(const v1::Observation& observation) {
  std::string out;
  put_message(out, observation);
  return out;
}

}  // namespace fairlead::record
