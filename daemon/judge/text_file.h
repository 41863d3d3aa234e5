// Reading protobuf text files so that every problem names file, line and column, what was wrong
// and the nearest valid word.
//
// Threads: pure functions over their arguments.
#pragma once

#include <google/protobuf/message.h>
#include <google/protobuf/text_format.h>

#include <map>
#include <string>
#include <vector>

#include "daemon/judge/judge.h"

namespace fairlead::judge {

/// A parsed text file that remembers where its fields stand.
struct TextFile {
  using Blocks = std::map<const google::protobuf::TextFormat::ParseInfoTree*,
                          google::protobuf::TextFormat::ParseLocation>;
  std::string name, bytes;
  google::protobuf::TextFormat::ParseInfoTree places;
  Blocks blocks;  // Where the block of a nested message begins.
};

/// Parses `file` into `message`. Errors: kBadInput with "file:line:column: what; what to do" (the
/// parser stops at the first).
[[nodiscard]] Status parse_text_file(const SourceFile& file, google::protobuf::Message& message,
                                     TextFile& places);

/// The same for callers that only want the content.
[[nodiscard]] Status parse_text_file(const SourceFile& file, google::protobuf::Message& message);

/// Collects meaning errors of one file: `at` names a field of a message read from it.
class Problems {
 public:
  explicit Problems(const TextFile& file) : file_(file) {}
  /// `tree` is the place of the message that holds `field` (index for repeated fields, else -1).
  void add(const google::protobuf::TextFormat::ParseInfoTree* tree,
           const google::protobuf::Message& message, const std::string& field, int index,
           const std::string& what);
  /// All problems in order of their places.
  [[nodiscard]] std::vector<std::string> lines() const;
  [[nodiscard]] const TextFile& file() const { return file_; }

 private:
  const TextFile& file_;
  struct Problem {
    int line, column;
    std::string text;
  };
  std::vector<Problem> found_;
};

}  // namespace fairlead::judge
