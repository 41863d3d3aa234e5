#include "daemon/judge/parser_words.h"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

#include "daemon/base/nearest.h"

namespace fairlead::judge {
namespace {

namespace pb = google::protobuf;

std::string_view line_of(std::string_view file, int line) {
  for (; line > 0; --line) {
    const size_t end = file.find('\n');
    if (end == std::string_view::npos) return "";
    file.remove_prefix(end + 1);
  }
  return file.substr(0, file.find('\n'));
}

// Byte of the line at which the parser's column stands.
size_t byte_at(std::string_view line, int parser_column) {
  int column = 0;
  size_t byte = 0;
  for (; byte < line.size() && column < parser_column; ++byte)
    column += line[byte] == '\t' ? 8 - column % 8 : 1;
  return byte;
}

bool is_name_char(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_';
}

// The name before a value: `title` of `title: 0.5`; empty where none stands in that line.
std::string field_before(std::string_view line, size_t byte) {
  std::string_view head = line.substr(0, byte);
  while (!head.empty() && (head.back() == ' ' || head.back() == '\t' || head.back() == ':'))
    head.remove_suffix(1);
  size_t from = head.size();
  while (from > 0 && is_name_char(head[from - 1])) --from;
  return std::string(head.substr(from));
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

// The first field of that name in the file's messages, from the outermost.
const pb::FieldDescriptor* find_field(const pb::Descriptor* owner, const std::string& name,
                                      int depth) {
  if (const auto* here = owner->FindFieldByName(name)) return here;
  for (int i = 0; depth > 0 && i < owner->field_count(); ++i) {
    const pb::Descriptor* inner = owner->field(i)->message_type();
    if (inner == nullptr) continue;
    if (const auto* found = find_field(inner, name, depth - 1)) return found;
  }
  return nullptr;
}

// Words of every enumeration that a field of that name takes (the parser does not say whose field).
void add_words(const pb::Descriptor* owner, const std::string& field, int depth,
               std::vector<std::string_view>& words) {
  const pb::FieldDescriptor* here = owner->FindFieldByName(field);
  const pb::EnumDescriptor* named = here == nullptr ? nullptr : here->enum_type();
  for (int i = 0; named != nullptr && i < named->value_count(); ++i) {
    const std::string_view word = named->value(i)->name();
    const bool known = std::find(words.begin(), words.end(), word) != words.end();
    if (named->value(i)->number() != 0 && !known) words.push_back(word);
  }
  for (int i = 0; depth > 0 && i < owner->field_count(); ++i) {
    const pb::Descriptor* inner = owner->field(i)->message_type();
    if (inner != nullptr) add_words(inner, field, depth - 1, words);
  }
}

constexpr int kDeepest = 4;

// The text between the quotes that follow `before`; empty where it does not stand.
std::string quoted_after(const std::string& message, const std::string& before) {
  const size_t at = message.find(before + '"');
  if (at == std::string::npos) return "";
  const size_t from = at + before.size() + 1;
  return message.substr(from, message.find('"', from) - from);
}

std::string unknown_word(const std::string& word, const std::string& field,
                         const pb::Descriptor* root) {
  std::vector<std::string_view> words;
  add_words(root, field, kDeepest, words);
  const std::string hint = suggestion(word, words);
  return fmt::format("{}: unknown word '{}'{}{}", field, word, hint.empty() ? "" : "; ", hint);
}

std::string unknown_field(const std::string& type, const std::string& field,
                          const pb::Descriptor* root) {
  const pb::Descriptor* owner = find_message(root, type, kDeepest);
  if (owner == nullptr) return fmt::format("unknown field '{}'; remove it", field);
  std::vector<std::string_view> names;
  for (int i = 0; i < owner->field_count(); ++i) names.emplace_back(owner->field(i)->name());
  const std::string hint = suggestion(field, names);
  if (hint.starts_with("the nearest")) return fmt::format("unknown field '{}'; {}", field, hint);
  // Known further out: perhaps the block before was not closed.
  const bool elsewhere = owner != root && find_field(root, field, 1) != nullptr;
  if (elsewhere)
    return fmt::format(
        "'{}' is no field of this block ({}); take it out, or close the block with a "
        "}} before it",
        field, fmt::join(names, ", "));
  return fmt::format(
      "unknown field '{}'; if it is part of a text, a quote is missing before it; "
      "the fields here: {}",
      field, fmt::join(names, ", "));
}

std::string not_ascii(std::string_view text, size_t byte) {
  const std::string_view rest = text.substr(byte);
  if (rest.starts_with("\xef\xbb\xbf"))
    return "the file begins with a byte-order mark; save it as UTF-8 without one";
  for (const std::string_view quote :
       {"\u201c", "\u201d", "\u201e", "\u2018", "\u2019", "\u00ab", "\u00bb"}) {
    if (rest.starts_with(quote))
      return fmt::format("{} is a typographic quote; write the plain one, \"", quote);
  }
  size_t end = 1;
  while (end < rest.size() && (static_cast<unsigned char>(rest[end]) & 0xC0U) == 0x80U) ++end;
  return fmt::format("'{}' stands outside quotes; put the text in quotes, or take it out",
                     rest.substr(0, end));
}

// What a block of that name looks like: "longest_age { fact age }".
std::string block_words(const std::string& field, const pb::Descriptor* root) {
  const pb::FieldDescriptor* found = find_field(root, field, kDeepest);
  if (found == nullptr || found->message_type() == nullptr) return field + " { ... }";
  std::vector<std::string_view> names;
  for (int i = 0; i < found->message_type()->field_count(); ++i)
    names.emplace_back(found->message_type()->field(i)->name());
  constexpr size_t kShown = 5;
  const bool more = names.size() > kShown;
  if (more) names.resize(kShown);
  return fmt::format("{} {{ {}{} }}", field, fmt::join(names, " "), more ? " ..." : "");
}

std::string without_quotes(std::string_view value) {
  if (value.size() >= 2 && (value.front() == '"' || value.front() == '\''))
    value = value.substr(1, value.size() - 2);
  return std::string(value);
}

// A quantity without quotes: the number and the unit behind it.
std::string with_unit(std::string_view rest, const std::string& number) {
  if (!rest.starts_with(number)) return number;
  rest.remove_prefix(number.size());
  size_t end = rest.starts_with(' ') ? 1 : 0;
  const size_t from = end;
  while (end < rest.size() && (is_name_char(rest[end]) || rest[end] == '/' || rest[end] == '%'))
    ++end;
  const bool field = end < rest.size() && rest[end] == ':';
  return end == from || field ? number : number + std::string(rest.substr(0, end));
}

// "Expected WANTED, got: GOT" or "Expected "WANTED", found "GOT".".
std::string expected(const std::string& wanted, const std::string& got, const std::string& field,
                     std::string_view rest, const pb::Descriptor* root) {
  const std::string who = field.empty() ? "" : field + ": ";
  if (got.empty())
    return "the file ends inside a block; a } is missing: each { wants one of its own";
  const bool end = got == "}" || got == "{" || got == ":";
  if (wanted == "string") {
    if (end) return who + "has no value; write one in quotes";
    const std::string value = with_unit(rest, got);
    return fmt::format("{}{} is a text; write it in quotes, \"{}\"", who, value, value);
  }
  if (wanted == "integer") {
    const std::string bare = without_quotes(got);
    const bool digits = !bare.empty() && bare.find_first_not_of("0123456789") == std::string::npos;
    if (digits) return fmt::format("{}a count stands without quotes; write {}", who, bare);
    return fmt::format("{}wants a whole number from 0, without quotes, as 2; found {}", who, got);
  }
  if (wanted == "integer or identifier") {
    std::vector<std::string_view> words;
    add_words(root, field, kDeepest, words);
    const std::string bare = without_quotes(got);
    const bool known = std::find(words.begin(), words.end(), bare) != words.end();
    return known ? fmt::format("{}a word of the list stands without quotes; write {}", who, bare)
                 : fmt::format("{}wants a word without quotes, one of {}; found {}", who,
                               fmt::join(words, ", "), got);
  }
  if (wanted == "{") {
    const std::string block = block_words(field, root);
    return fmt::format("{}is a block, and {} is none; write {}", who, got, block);
  }
  if (wanted == ":")
    return fmt::format("{}a colon is missing; write {}: {}", who, field,
                       got == "=" ? "\"...\"" : got);
  if (wanted != "identifier") return fmt::format("{}{} is missing; found {}", who, wanted, got);
  if (got == "}") return "a } too many; take it out, or open its block with a {";
  if (got == "/") return "a comment begins with #, not with a slash";
  return fmt::format("a field's name is wanted here; found {}", got);
}

}  // namespace

int character_column(std::string_view file, int line, int parser_column) {
  const std::string_view text = line_of(file, line);
  const size_t byte = byte_at(text, parser_column);
  int characters = 0;
  for (size_t i = 0; i < byte; ++i)
    characters += (static_cast<unsigned char>(text[i]) & 0xC0U) != 0x80U;
  // Past the end of the text (its last line may be cut) the parser's own count goes on.
  return characters;
}

std::string with_remedy(const std::string& message, std::string_view file, int line,
                        int parser_column, const pb::Descriptor* root) {
  const std::string_view text = line_of(file, line);
  const size_t byte = byte_at(text, parser_column);
  const std::string field = field_before(text, byte);
  const std::string who = field.empty() ? "" : field + ": ";
  const auto has = [&](std::string_view words) { return message.find(words) != std::string::npos; };
  if (has("has no field named"))
    return unknown_field(quoted_after(message, "Message type "),
                         quoted_after(message, "has no field named "), root);
  if (has("Unknown enumeration value of "))
    return unknown_word(quoted_after(message, "Unknown enumeration value of "),
                        quoted_after(message, "for field "), root);
  if (const std::string twice = quoted_after(message, "Non-repeated field "); !twice.empty())
    return twice + ": stands twice; keep one";
  if (has("another member of oneof"))
    return fmt::format("{}: the rule has its form already, {}; give each a rule of its own",
                       quoted_after(message, "Field "), quoted_after(message, "along with field "));
  if (has("Interpreting non ascii codepoint")) return not_ascii(text, byte);
  if (has("String literals cannot cross line boundaries"))
    return "a text is not closed in its line; a quote is missing";
  if (has("Invalid escape sequence"))
    return "a backslash in a text begins an escape; write it twice, \\\\";
  if (has("Invalid value for boolean field"))
    return fmt::format("{}: '{}' is neither true nor false; write one of them without quotes",
                       quoted_after(message, "boolean field "), quoted_after(message, "Value: "));
  if (has("Integer out of range"))
    return who + "the number is too large; write one up to 4294967295";
  if (has("Need space between number and identifier"))
    return "a number and a word stand together; put a quantity in quotes, as \"5 km/h\"";
  for (const std::string_view middle : {", got: ", ", found "}) {
    const size_t at = message.find(middle);
    if (!message.starts_with("Expected ") || at == std::string::npos) continue;
    std::string wanted = without_quotes(message.substr(9, at - 9));
    std::string got = message.substr(at + middle.size());
    if (middle == ", found " && got.ends_with(".")) got = got.substr(1, got.size() - 3);
    // `ever: "true"` wants an identifier, but it is no name of a field that is wrong.
    const auto* of = field.empty() ? nullptr : find_field(root, field, kDeepest);
    if (wanted == "identifier" && of != nullptr &&
        of->cpp_type() == pb::FieldDescriptor::CPPTYPE_BOOL)
      return fmt::format("{}{} is neither true nor false; write one of them without quotes", who,
                         got);
    return expected(wanted, got, field, text.substr(byte), root);
  }
  return message;
}

}  // namespace fairlead::judge
