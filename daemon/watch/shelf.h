// The procedure and register files in force: the newest of each name. A job pins what it is judged
// by when it opens: the procedures its opening names and every register file.
//
// Threads: any.
#pragma once

#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "daemon/ledger/ledger.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::watch {

struct ShelfFile {
  v1::Pin pin;
  uint64_t leaf = 0;  // Where it came from: its REGISTER leaf, or the truck's ORDER leaf.
  int64_t since_us = 0;
  std::string procedure_id;  // Empty: a register file.
  record::Id16 by{};         // Whose chain the REGISTER entry is in; zero on a truck.
};

class Shelf {
 public:
  void add(const v1::RegisterFileBody& file, uint64_t leaf, int64_t since_us,
           const record::Id16& by = {});

  /// For a job that opens with this line. Procedures nobody has are left out: their rules are
  /// unread.
  [[nodiscard]] std::vector<v1::Pin> pins_for(const v1::Opened& opened) const;
  [[nodiscard]] std::vector<ShelfFile> in_force() const;
  /// Every version that ever was in force, of one name or (empty) of all, oldest first.
  [[nodiscard]] std::vector<ShelfFile> versions(const std::string& name = "") const;
  [[nodiscard]] bool has(const std::string& sha256) const;

 private:
  mutable std::mutex mutex_;
  std::vector<ShelfFile> versions_;      // As they came.
  std::map<std::string, size_t> files_;  // Name -> the newest of versions_.
};

/// What a file is for, read from its content: PROCEDURE, or the kind of its first register item.
/// Errors: kBadInput with the file's problems, "file:line:column: what; what to do".
[[nodiscard]] Result<v1::FileKind::Word> kind_of_file(const std::string& name,
                                                      const std::string& bytes);

}  // namespace fairlead::watch
