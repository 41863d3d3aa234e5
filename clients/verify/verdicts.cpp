#include "clients/verify/verdicts.h"

#include <algorithm>

namespace fairlead::verifier {
namespace {

constexpr const char* kScope =
    "checked: the attached record. Not checked: the words on these pages; compare them with this "
    "list";

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
      return "PROVEN and countersigned";
    case Exit::kProvenWithNotes:
      return "PROVEN, with the notes above";
    case Exit::kDisproven:
      return "DISPROVEN: this is not the record that was signed";
    case Exit::kMalformed:
      return "MALFORMED: this cannot be read as a bundle";
    case Exit::kUnknown:
      return "NOT DECIDED: a key or the policy is unknown";
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
  std::string out;
  int previous = -1;
  for (const Verdict& verdict : verdicts.list()) {
    if (verdict.step != previous) {
      out += (verdict.step < 10 ? " " : "") + std::to_string(verdict.step) + "  " +
             step_title(verdict.step) + "\n";
      previous = verdict.step;
    }
    std::string mark = mark_word(verdict.mark);
    mark.resize(9, ' ');
    out += "    " + mark + " " + verdict.words + "\n";
  }
  return out + "\n" + exit_words(verdicts.exit()) + "\n" + kScope + "\n";
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
  return out + "],\"scope\":" + json_string(kScope) + "}\n";
}

}  // namespace fairlead::verifier
