#include "daemon/judge/text_file.h"

#include <fmt/format.h>
#include <google/protobuf/descriptor.h>
#include <google/protobuf/io/tokenizer.h>

#include <algorithm>
#include <tuple>

#include "daemon/base/nearest.h"
#include "daemon/base/utf8.h"

namespace fairlead::judge {
namespace {

namespace pb = google::protobuf;

constexpr size_t kLargestFile = 1 << 20;

// A complaint quotes the file: what would break its line, or move the terminal, is spelled out.
std::string on_one_line(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const auto code = static_cast<unsigned char>(c);
    if (code < 0x20 || code == 0x7f)
      out += fmt::format("\\x{:02x}", code);
    else
      out += c;
  }
  return out;
}

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

// Words of every enumeration that a field of that name takes (the parser does not say whose field).
void add_words(const pb::Descriptor* owner, const std::string& field, int depth,
               std::vector<std::string_view>& words) {
  const pb::FieldDescriptor* here = owner->FindFieldByName(field);
  const pb::EnumDescriptor* named = here == nullptr ? nullptr : here->enum_type();
  for (int i = 0; named != nullptr && i < named->value_count(); ++i) {
    if (named->value(i)->number() != 0) words.emplace_back(named->value(i)->name());
  }
  for (int i = 0; depth > 0 && i < owner->field_count(); ++i) {
    const pb::Descriptor* inner = owner->field(i)->message_type();
    if (inner != nullptr) add_words(inner, field, depth - 1, words);
  }
}

// The text between the quotes that follow `before`; empty where it does not stand.
std::string quoted_after(const std::string& message, const std::string& before) {
  const size_t at = message.find(before + '"');
  if (at == std::string::npos) return "";
  const size_t from = at + before.size() + 1;
  return message.substr(from, message.find('"', from) - from);
}

// The parser says: Unknown enumeration value of "X" for field "y". Adds the nearest word.
std::string with_nearest_word(const std::string& message, const pb::Descriptor* root) {
  const std::string word = quoted_after(message, "Unknown enumeration value of "),
                    field = quoted_after(message, "for field ");
  std::vector<std::string_view> names;
  add_words(root, field, 4, names);
  if (word.empty() || names.empty()) return message;
  return fmt::format("{}: unknown word '{}'; the nearest is '{}'", field, word,
                     nearest(word, names));
}

// The parser says: Message type "X" has no field named "y". Adds the nearest of X's fields.
std::string with_nearest_field(const std::string& message, const pb::Descriptor* root) {
  const std::string type = quoted_after(message, "Message type "),
                    field = quoted_after(message, "has no field named ");
  const pb::Descriptor* owner = type.empty() ? nullptr : find_message(root, type, 4);
  if (owner == nullptr) return message;
  std::vector<std::string_view> names;
  for (int i = 0; i < owner->field_count(); ++i) names.emplace_back(owner->field(i)->name());
  return fmt::format("unknown field '{}'; the nearest is '{}'", field, nearest(field, names));
}

// What the parser says, with what to do about it.
std::string with_remedy(const std::string& message, const pb::Descriptor* root) {
  if (message.find("has no field named") != std::string::npos)
    return with_nearest_field(message, root);
  if (message.find("Unknown enumeration value") != std::string::npos)
    return with_nearest_word(message, root);
  const std::string twice = quoted_after(message, "Non-repeated field ");
  if (!twice.empty()) return fmt::format("{}: stands twice; keep one", twice);
  return message;
}

class FirstError : public pb::io::ErrorCollector {
 public:
  FirstError(const std::string& name, const pb::Descriptor* root) : name_(name), root_(root) {}
  void AddError(int line, pb::io::ColumnNumber column, const std::string& message) override {
    if (!text_.empty()) return;
    text_ = fmt::format("{}:{}:{}: {}", name_, line + 1, column + 1,
                        on_one_line(with_remedy(message, root_)));
  }
  [[nodiscard]] const std::string& text() const { return text_; }

 private:
  std::string name_;
  const pb::Descriptor* root_;
  std::string text_;
};

// Name of a text field whose bytes are no UTF-8 (the parser takes any, escapes too); else empty.
// No deeper than the parser went.
std::string first_not_utf8(const pb::Message& message) {
  const pb::Reflection& r = *message.GetReflection();
  std::vector<const pb::FieldDescriptor*> fields;
  r.ListFields(message, &fields);
  for (const pb::FieldDescriptor* field : fields) {
    const int count = field->is_repeated() ? r.FieldSize(message, field) : 1;
    for (int i = 0; i < count; ++i) {
      if (field->cpp_type() == pb::FieldDescriptor::CPPTYPE_STRING) {
        const std::string text = field->is_repeated() ? r.GetRepeatedString(message, field, i)
                                                      : r.GetString(message, field);
        if (!code_points(text)) return field->name();
      } else if (field->cpp_type() == pb::FieldDescriptor::CPPTYPE_MESSAGE) {
        const std::string inner =
            first_not_utf8(field->is_repeated() ? r.GetRepeatedMessage(message, field, i)
                                                : r.GetMessage(message, field));
        if (!inner.empty()) return inner;
      }
    }
  }
  return "";
}

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
  if (parser.ParseFromString(file.bytes, &message)) {
    const std::string broken = first_not_utf8(message);
    if (broken.empty()) return {};
    return fail(
        Code::kBadInput,
        fmt::format("{}:1:1: {}: is not valid UTF-8; write the file as UTF-8", file.name, broken));
  }
  return fail(Code::kBadInput, errors.text().empty()
                                   ? file.name + ":1:1: cannot be read as protobuf text"
                                   : errors.text());
}

Status parse_text_file(const SourceFile& file, pb::Message& message) {
  TextFile places;
  return parse_text_file(file, message, places);
}

namespace {

using Place = pb::TextFormat::ParseLocation;

// Where the first field of the message stands: the place of one that is missing from it.
Place first_place(const pb::TextFormat::ParseInfoTree& tree, const pb::Message& message) {
  Place first{-1, -1};
  const pb::Descriptor* descriptor = message.GetDescriptor();
  for (int i = 0; i < descriptor->field_count(); ++i) {
    const pb::FieldDescriptor* field = descriptor->field(i);
    const Place place = tree.GetLocation(field, field->is_repeated() ? 0 : -1);
    const bool earlier =
        place.line < first.line || (place.line == first.line && place.column < first.column);
    if (place.line >= 0 && (first.line < 0 || earlier)) first = place;
  }
  return first;
}

}  // namespace

void Problems::add(const pb::TextFormat::ParseInfoTree* tree, const pb::Message& message,
                   const std::string& field, int index, const std::string& what) {
  Place place{0, 0};
  const pb::FieldDescriptor* descriptor = message.GetDescriptor()->FindFieldByName(field);
  if (tree != nullptr && descriptor != nullptr) {
    const int place_index = descriptor->is_repeated() ? std::max(index, 0) : -1;
    Place found = tree->GetLocation(descriptor, place_index);
    if (found.line < 0) found = first_place(*tree, message);
    if (found.line >= 0) place = found;
  }
  std::string line = fmt::format("{}:{}:{}: {}: {}", file_.name, place.line + 1, place.column + 1,
                                 field, on_one_line(what));
  // A field that is read for two uses has one problem.
  const bool known = std::any_of(found_.begin(), found_.end(),
                                 [&](const Problem& one) { return one.text == line; });
  if (!known) found_.push_back({place.line, place.column, std::move(line)});
}

std::vector<std::string> Problems::lines() const {
  std::vector<Problem> ordered = found_;
  std::stable_sort(ordered.begin(), ordered.end(), [](const Problem& a, const Problem& b) {
    return std::tie(a.line, a.column) < std::tie(b.line, b.column);
  });
  std::vector<std::string> texts;
  for (Problem& one : ordered) texts.push_back(std::move(one.text));
  return texts;
}

}  // namespace fairlead::judge
