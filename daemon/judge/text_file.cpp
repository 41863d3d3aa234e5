#include "daemon/judge/text_file.h"

#include <fmt/format.h>
#include <google/protobuf/descriptor.h>
#include <google/protobuf/io/tokenizer.h>

#include "daemon/base/nearest.h"

namespace fairlead::judge {
namespace {

namespace pb = google::protobuf;

constexpr size_t kLargestFile = 1 << 20;

const pb::Descriptor* find_message(const pb::Descriptor* descriptor, const std::string& full_name,
                                   int depth) {
  if (descriptor->full_name() == full_name) return descriptor;
  for (int i = 0; depth > 0 && i < descriptor->field_count(); ++i) {
    const pb::Descriptor* inner = descriptor->field(i)->message_type();
    if (inner == nullptr) continue;
    if (const auto* found = find_message(inner, full_name, depth - 1)) return found;
  }
  return nullptr;
}

// The parser says: Message type "X" has no field named "y". Adds the nearest of X's fields.
std::string with_nearest_field(const std::string& message, const pb::Descriptor* root) {
  const size_t type_at = message.find("Message type \"");
  const size_t field_at = message.find("has no field named \"");
  if (type_at == std::string::npos || field_at == std::string::npos) return message;
  const size_t type_from = type_at + 14, field_from = field_at + 20;
  const std::string type = message.substr(type_from, message.find('"', type_from) - type_from);
  const std::string field = message.substr(field_from, message.find('"', field_from) - field_from);
  const pb::Descriptor* owner = find_message(root, type, 4);
  if (owner == nullptr) return message;
  std::vector<std::string_view> names;
  for (int i = 0; i < owner->field_count(); ++i) names.emplace_back(owner->field(i)->name());
  return fmt::format("unknown field '{}'; the nearest is '{}'", field, nearest(field, names));
}

class FirstError : public pb::io::ErrorCollector {
 public:
  FirstError(const std::string& name, const pb::Descriptor* root) : name_(name), root_(root) {}
  void AddError(int line, pb::io::ColumnNumber column, const std::string& message) override {
    if (!text_.empty()) return;
    text_ = fmt::format("{}:{}:{}: {}", name_, line + 1, column + 1,
                        with_nearest_field(message, root_));
  }
  [[nodiscard]] const std::string& text() const { return text_; }

 private:
  std::string name_;
  const pb::Descriptor* root_;
  std::string text_;
};

}  // namespace

Status parse_text_file(const SourceFile& file, pb::Message& message, TextFile& places) {
  places.name = file.name;
  if (file.bytes.size() > kLargestFile) {
    return fail(Code::kBadInput, file.name + ":1:1: larger than 1 MiB; split the file");
  }
  pb::TextFormat::Parser parser;
  FirstError errors(file.name, message.GetDescriptor());
  parser.RecordErrorsTo(&errors);
  parser.WriteLocationsTo(&places.places);
  parser.SetRecursionLimit(16);
  if (parser.ParseFromString(file.bytes, &message)) return {};
  return fail(Code::kBadInput, errors.text().empty()
                                   ? file.name + ":1:1: cannot be read as protobuf text"
                                   : errors.text());
}

void Problems::add(const pb::TextFormat::ParseInfoTree* tree, const pb::Message& message,
                   const std::string& field, int index, const std::string& what) {
  pb::TextFormat::ParseLocation place{0, 0};
  const pb::FieldDescriptor* descriptor = message.GetDescriptor()->FindFieldByName(field);
  if (tree != nullptr && descriptor != nullptr) {
    const int place_index = descriptor->is_repeated() ? index : -1;
    const pb::TextFormat::ParseLocation found = tree->GetLocation(descriptor, place_index);
    if (found.line >= 0) place = found;
  }
  lines_.push_back(
      fmt::format("{}:{}:{}: {}: {}", file_.name, place.line + 1, place.column + 1, field, what));
}

}  // namespace fairlead::judge
