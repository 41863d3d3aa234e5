#include "clients/verify/verdicts.h"

#include <algorithm>

namespace fairlead::verifier {
namespace {

constexpr const char* kScope =
    "checked: the attached record. Not checked: the words on these pages; compare them with this "
    "list";

constexpr const char* kNotPromised =
    "not promised: that a sensor told the truth; that every job was opened, and none done again; "
    "that "
    "a countersigner looked before signing; that no other history was made up before the first "
    "countersigned head";

const char* mark_word(Mark mark) {
  switch (mark) {
    case Mark::kGood:
      return "ok";
    case Mark::kShown:
      return "shown";
    case Mark::kNote:
      return "note";
    case Mark::kUnknown:
      return "unknown";
    case Mark::kDisproven:
      return "WRONG";
    case Mark::kMalformed:
      return "MALFORMED";
  }
  return "?";
}

const char* exit_words(Exit exit) {
  switch (exit) {
    case Exit::kProven:
      return "PROVEN and countersigned. This is the record as it was signed: nothing in it was "
             "changed and nothing of the job is missing.";
    case Exit::kProvenWithNotes:
      return "PROVEN, with notes. Nothing in this record was changed since it was signed; what it "
             "lacks stands in the notes.";
    case Exit::kDisproven:
      return "DISPROVEN. This is not the record that was signed, or part of it is missing or "
             "altered. Do not rely on it.";
    case Exit::kMalformed:
      return "MALFORMED. This file cannot be read as a bundle of the record, so it proves nothing. "
             "Ask for it again.";
    case Exit::kUnknown:
      return "NOT DECIDED. A key or the policy is unknown, so nothing is proven until that is "
             "cleared up.";
  }
  return "?";
}

std::string json_string(const std::string& text) {
  static constexpr char kHex[] = "0123456789abcdef";
  std::string out = "\"";
  for (char c : text) {
    const auto byte = static_cast<uint8_t>(c);
    if (c == '"' || c == '\\') {
      out += '\\';
      out += c;
    } else if (byte < 0x20 || byte == 0x7f) {
      out += "\\u00";
      out += kHex[byte >> 4];
      out += kHex[byte & 15];
    } else {
      out += c;
    }
  }
  return out + "\"";
}

/// Names and sentences out of a record must not steer the terminal.
std::string one_line(std::string text) {
  for (char& c : text) {
    if (static_cast<uint8_t>(c) < 0x20 || c == 0x7f) c = ' ';
  }
  return text;
}

std::string padded(std::string word) {
  word.resize(std::max<size_t>(word.size(), 9), ' ');
  return word;
}

/// The first few sentences of a kind, under a heading; the whole list follows anyway.
template <typename Wanted>
void add_gravest(std::string& out, const char* heading, const Verdicts& verdicts, Wanted wanted) {
  constexpr size_t kMost = 6;
  size_t count = 0;
  for (const Verdict& verdict : verdicts.list()) {
    if (!wanted(verdict.mark)) continue;
    if (++count == 1) out += std::string("\n") + heading + "\n";
    if (count <= kMost) out += "  - " + one_line(verdict.words) + "\n";
  }
  if (count > kMost)
    out += "  - and " + std::to_string(count - kMost) + " more, in the list below\n";
}

}  // namespace

bool Verdicts::failed(int step) const {
  return std::any_of(list_.begin(), list_.end(), [step](const Verdict& verdict) {
    return verdict.step == step && verdict.mark > Mark::kNote;
  });
}

Exit Verdicts::exit() const {
  Mark worst = Mark::kGood;
  for (const Verdict& verdict : list_) worst = std::max(worst, verdict.mark);
  switch (worst) {
    case Mark::kGood:
    case Mark::kShown:
      return Exit::kProven;
    case Mark::kNote:
      return Exit::kProvenWithNotes;
    case Mark::kUnknown:
      return Exit::kUnknown;
    case Mark::kDisproven:
      return Exit::kDisproven;
    case Mark::kMalformed:
      return Exit::kMalformed;
  }
  return Exit::kMalformed;
}

const char* step_title(int step) {
  static constexpr const char* kTitles[] = {"form",
                                            "seal",
                                            "heads and countersigners",
                                            "entries in the tree",
                                            "signatures",
                                            "chains",
                                            "first and last entry of the job",
                                            "bodies",
                                            "heads the devices had seen",
                                            "forks, gaps, erasures, holds",
                                            "not before, not after",
                                            "attachments and files",
                                            "findings judged again"};
  return step >= 0 && step <= 12 ? kTitles[step] : "?";
}

std::string to_text(const Verdicts& verdicts) {
  std::string out = std::string(exit_words(verdicts.exit())) + "\n";
  add_gravest(out, "What is wrong", verdicts, [](Mark mark) { return mark > Mark::kNote; });
  add_gravest(out, "Notes", verdicts, [](Mark mark) { return mark == Mark::kNote; });
  if (!verdicts.told().empty()) out += "\nOn record, to be compared with the pages\n";
  for (const Told& told : verdicts.told()) {
    out += "    " + padded(told.what) + " " + one_line(told.words) + "\n";
  }
  out += "\nThe checks, one by one\n";
  int previous = -1;
  for (const Verdict& verdict : verdicts.list()) {
    if (verdict.step != previous) {
      out += (verdict.step < 10 ? " " : "") + std::to_string(verdict.step) + "  " +
             step_title(verdict.step) + "\n";
      previous = verdict.step;
    }
    out += "    " + padded(mark_word(verdict.mark)) + " " + one_line(verdict.words) + "\n";
  }
  return out + "\n" + kScope + "\n" + kNotPromised + "\n";
}

std::string to_json(const Verdicts& verdicts) {
  std::string out = "{\"exit\":" + std::to_string(static_cast<int>(verdicts.exit())) +
                    ",\"verdict\":" + json_string(exit_words(verdicts.exit())) + ",\"steps\":[";
  bool first = true;
  for (const Verdict& verdict : verdicts.list()) {
    if (!first) out += ",";
    first = false;
    out += "{\"step\":" + std::to_string(verdict.step) +
           ",\"title\":" + json_string(step_title(verdict.step)) +
           ",\"mark\":" + json_string(mark_word(verdict.mark)) +
           ",\"words\":" + json_string(verdict.words) + "}";
  }
  out += "],\"record\":[";
  first = true;
  for (const Told& told : verdicts.told()) {
    if (!first) out += ",";
    first = false;
    out += "{\"what\":" + json_string(told.what) + ",\"words\":" + json_string(told.words) + "}";
  }
  return out + "],\"scope\":" + json_string(kScope) +
         ",\"not_promised\":" + json_string(kNotPromised) + "}\n";
}

}  // namespace fairlead::verifier
