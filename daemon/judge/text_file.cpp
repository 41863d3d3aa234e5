#include "daemon/judge/text_file.h"

#include <fmt/format.h>
#include <google/protobuf/descriptor.h>
#include <google/protobuf/io/tokenizer.h>

#include <algorithm>
#include <tuple>

#include "daemon/base/utf8.h"
#include "daemon/judge/parser_words.h"

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

class FirstError : public pb::io::ErrorCollector {
 public:
  FirstError(const SourceFile& file, const pb::Descriptor* root) : file_(file), root_(root) {}
  void AddError(int line, pb::io::ColumnNumber column, const std::string& message) override {
    if (!text_.empty()) return;
    text_ = fmt::format("{}:{}:{}: {}", file_.name, line + 1,
                        character_column(file_.bytes, line, column) + 1,
                        on_one_line(with_remedy(message, file_.bytes, line, column, root_)));
  }
  [[nodiscard]] const std::string& text() const { return text_; }

 private:
  const SourceFile& file_;
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

// Where each block stands, for one that holds no field to point at.
void note_blocks(const pb::TextFormat::ParseInfoTree& tree, const pb::Message& message,
                 TextFile::Blocks& blocks) {
  const pb::Reflection& r = *message.GetReflection();
  std::vector<const pb::FieldDescriptor*> fields;
  r.ListFields(message, &fields);
  for (const pb::FieldDescriptor* field : fields) {
    if (field->cpp_type() != pb::FieldDescriptor::CPPTYPE_MESSAGE) continue;
    const int count = field->is_repeated() ? r.FieldSize(message, field) : 1;
    for (int i = 0; i < count; ++i) {
      const int index = field->is_repeated() ? i : -1;
      const auto* inner = tree.GetTreeForNested(field, index);
      if (inner == nullptr) continue;
      blocks[inner] = tree.GetLocation(field, index);
      note_blocks(*inner,
                  field->is_repeated() ? r.GetRepeatedMessage(message, field, i)
                                       : r.GetMessage(message, field),
                  blocks);
    }
  }
}

}  // namespace

Status parse_text_file(const SourceFile& file, pb::Message& message, TextFile& places) {
  places.name = file.name;
  places.bytes = file.bytes;
  if (file.bytes.size() > kLargestFile) {
    return fail(Code::kBadInput, file.name + ":1:1: larger than 1 MiB; split the file");
  }
  pb::TextFormat::Parser parser;
  FirstError errors(file, message.GetDescriptor());
  parser.RecordErrorsTo(&errors);
  parser.WriteLocationsTo(&places.places);
  parser.SetRecursionLimit(16);
  if (parser.ParseFromString(file.bytes, &message)) {
    const std::string broken = first_not_utf8(message);
    if (broken.empty()) {
      note_blocks(places.places, message, places.blocks);
      return {};
    }
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
    const auto block = file_.blocks.find(tree);
    if (found.line < 0 && block != file_.blocks.end()) found = block->second;
    if (found.line >= 0) place = found;
  }
  std::string line = fmt::format("{}:{}:{}: {}: {}", file_.name, place.line + 1,
                                 character_column(file_.bytes, place.line, place.column) + 1, field,
                                 on_one_line(what));
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
