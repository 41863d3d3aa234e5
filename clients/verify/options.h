// The words of a command line of the verifier: plain ones, and "--name VALUE" pairs.
//
// Threads: values only.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace fairlead::verifier {

inline constexpr int kExitUse = 64;

/// Says on stderr what was wrong with the words; gives kExitUse.
[[nodiscard]] int usage(const std::string& words);

struct Options {
  std::vector<std::string> plain;
  std::vector<std::pair<std::string, std::string>> named;
  bool json = false;

  [[nodiscard]] std::optional<std::string> one(const std::string& name) const;
  [[nodiscard]] std::vector<std::string> all(const std::string& name) const;
};

/// nullopt for a name not in `known` or without its value.
[[nodiscard]] std::optional<Options> parse_options(const std::vector<std::string>& words,
                                                   const std::vector<std::string>& known);

}  // namespace fairlead::verifier
