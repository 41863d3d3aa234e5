// The finding lines of one job as they are held in memory: packed, and shared by all copies. A base
// holds those of every job it has ever had, and they are most of what it holds.
//
// Threads: values; copies may be read at once. Memory: about a tenth of the lines.
#pragma once

#include <memory>
#include <string>
#include <vector>

namespace fairlead::watch {

class FindingLines {
 public:
  FindingLines() = default;
  explicit FindingLines(const std::vector<std::string>& lines);

  [[nodiscard]] bool empty() const { return packed_ == nullptr; }
  [[nodiscard]] size_t size() const;
  /// In their order; unpacked anew by every call.
  [[nodiscard]] std::vector<std::string> lines() const;

 private:
  struct Packed;
  std::shared_ptr<const Packed> packed_;
};

}  // namespace fairlead::watch
