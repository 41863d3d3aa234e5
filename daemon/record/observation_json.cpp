#include "daemon/record/observation_json.h"

#include <fmt/format.h>

#include <limits>
#include <vector>

#include "daemon/record/json_tree.h"
#include "daemon/record/observation_check.h"
#include "daemon/record/observation_words.h"

namespace fairlead::record {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::FieldDescriptor;
using google::protobuf::Message;
using google::protobuf::Reflection;

std::unexpected<Error> bad(const std::string& path, const std::string& words) {
  return fail(Code::kBadInput, path + ": " + words);
}

Status wrong_type(const std::string& path, const JsonTree& value, std::string_view wanted) {
  return bad(path, fmt::format("is a {}; write {}", value.type_name(), wanted));
}

const FieldDescriptor* field_named(const Descriptor& type, std::string_view json_name) {
  for (int i = 0; i < type.field_count(); ++i) {
    if (type.field(i)->json_name() == json_name) return type.field(i);
  }
  return nullptr;
}

Status unknown_field(const std::string& prefix, const std::string& key, const Descriptor& type) {
  std::vector<std::string_view> names;
  for (int i = 0; i < type.field_count(); ++i) names.push_back(type.field(i)->json_name());
  return bad(prefix + shown(key),
             "is not a known field; remove or rename it" + nearest_hint(key, names));
}

bool is_required(const FieldDescriptor& field) {
  if (field.is_repeated()) return field.name() != "first_seq" && field.name() != "limits";
  if (field.name() == "job") return false;  // By kind: check_observation.
  return !field.has_presence() || (field.cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE &&
                                   field.real_containing_oneof() == nullptr);
}

Status read_message(const std::string& prefix, const JsonTree& tree, Message& out);

Status read_string(const std::string& path, const JsonTree& value, Message& out,
                   const FieldDescriptor& field) {
  if (!value.is_string()) return wrong_type(path, value, "a string");
  const Reflection& r = *out.GetReflection();
  const auto& text = value.get_ref<const std::string&>();
  field.is_repeated() ? r.AddString(&out, &field, text) : r.SetString(&out, &field, text);
  return {};
}

Status read_enum(const std::string& path, const JsonTree& value, Message& out,
                 const FieldDescriptor& field) {
  if (!value.is_string()) return wrong_type(path, value, "one of its words as a string");
  const auto number = enum_number(*field.enum_type(), value.get_ref<const std::string&>());
  if (!number) return bad(path, number.error().message);
  const Reflection& r = *out.GetReflection();
  field.is_repeated() ? r.AddEnumValue(&out, &field, *number)
                      : r.SetEnumValue(&out, &field, *number);
  return {};
}

Status read_whole(const std::string& path, const JsonTree& value, Message& out,
                  const FieldDescriptor& field) {
  if (!value.is_number()) return wrong_type(path, value, "a number");
  const bool wide = field.cpp_type() == FieldDescriptor::CPPTYPE_UINT64;
  const uint64_t most =
      wide ? std::numeric_limits<uint64_t>::max() : std::numeric_limits<uint32_t>::max();
  if (!value.is_number_unsigned() || value.get<uint64_t>() > most) {
    return bad(path, fmt::format("is {}; write a whole number from 0 to {}", value.dump(), most));
  }
  const Reflection& r = *out.GetReflection();
  const auto number = value.get<uint64_t>();
  wide ? r.SetUInt64(&out, &field, number)
       : r.SetUInt32(&out, &field, static_cast<uint32_t>(number));
  return {};
}

// One value: of a single field, or one item of a list.
Status read_value(const std::string& path, const JsonTree& value, Message& out,
                  const FieldDescriptor& field) {
  const Reflection& r = *out.GetReflection();
  switch (field.cpp_type()) {
    case FieldDescriptor::CPPTYPE_STRING:
      return read_string(path, value, out, field);
    case FieldDescriptor::CPPTYPE_ENUM:
      return read_enum(path, value, out, field);
    case FieldDescriptor::CPPTYPE_DOUBLE:
      if (!value.is_number()) return wrong_type(path, value, "a number");
      r.SetDouble(&out, &field, value.get<double>());
      return {};
    case FieldDescriptor::CPPTYPE_BOOL:
      if (!value.is_boolean()) return wrong_type(path, value, "true or false");
      r.SetBool(&out, &field, value.get<bool>());
      return {};
    case FieldDescriptor::CPPTYPE_MESSAGE:
      return read_message(
          path + ".", value,
          *(field.is_repeated() ? r.AddMessage(&out, &field) : r.MutableMessage(&out, &field)));
    default:
      return read_whole(path, value, out, field);
  }
}

Status read_field(const std::string& path, const JsonTree& value, Message& out,
                  const FieldDescriptor& field) {
  if (!field.is_repeated()) return read_value(path, value, out, field);
  if (!value.is_array()) return wrong_type(path, value, "a list");
  size_t index = 0;
  for (const auto& item : value) {
    const auto read = read_value(fmt::format("{}[{}]", path, index++), item, out, field);
    if (!read) return read;
  }
  return {};
}

Status check_required(const std::string& prefix, const JsonTree& tree, const Descriptor& type) {
  for (int i = 0; i < type.field_count(); ++i) {
    const FieldDescriptor& field = *type.field(i);
    if (is_required(field) && !tree.contains(field.json_name())) {
      return bad(prefix + field.json_name(), "is missing; add it");
    }
  }
  return {};
}

Status read_message(const std::string& prefix, const JsonTree& tree, Message& out) {
  if (!tree.is_object()) {
    const std::string path = prefix.empty() ? "line" : prefix.substr(0, prefix.size() - 1);
    return wrong_type(path, tree, "an object, {...}");
  }
  const Descriptor& type = *out.GetDescriptor();
  for (const auto& [key, value] : tree.items()) {
    const FieldDescriptor* field = field_named(type, key);
    if (field == nullptr) return unknown_field(prefix, key, type);
    const auto* oneof = field->real_containing_oneof();
    if (oneof != nullptr && out.GetReflection()->HasOneof(out, oneof)) {
      return bad(prefix + key, "is a second kind; write one kind a line");
    }
    const auto read = read_field(prefix + key, value, out, *field);
    if (!read) return read;
  }
  return check_required(prefix, tree, type);
}

std::string_view trimmed(std::string_view line) {
  const auto end = line.find_last_not_of(" \t\r\n");
  return line.substr(0, end == std::string_view::npos ? 0 : end + 1);
}

}  // namespace

Result<v1::Observation> observation_from_line(std::string_view line) {
  line = trimmed(line);
  if (line.size() > kLongestLine) {
    return fail(Code::kBadInput,
                fmt::format("line: has {} bytes; write at most {}", line.size(), kLongestLine));
  }
  const auto tree = json_tree(line);
  if (!tree) return std::unexpected(tree.error());
  v1::Observation observation;
  if (const auto read = read_message("", *tree, observation); !read) {
    return std::unexpected(read.error());
  }
  if (const auto sane = check_observation(observation); !sane) return std::unexpected(sane.error());
  return observation;
}

}  // namespace fairlead::record
