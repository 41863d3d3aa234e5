#include "clients/verify/options.h"

#include <algorithm>
#include <iostream>

namespace fairlead::verifier {

int usage(const std::string& words) {
  std::cerr << "fairlead-verify: " << words << "; see fairlead-verify --help\n";
  return kExitUse;
}

std::optional<std::string> Options::one(const std::string& name) const {
  for (const auto& [key, value] : named) {
    if (key == name) return value;
  }
  return std::nullopt;
}

std::vector<std::string> Options::all(const std::string& name) const {
  std::vector<std::string> out;
  for (const auto& [key, value] : named) {
    if (key == name) out.push_back(value);
  }
  return out;
}

std::optional<Options> parse_options(const std::vector<std::string>& words,
                                     const std::vector<std::string>& known) {
  Options out;
  for (size_t i = 0; i < words.size(); ++i) {
    if (words[i] == "--json") {
      out.json = true;
    } else if (!words[i].starts_with("-")) {
      out.plain.push_back(words[i]);
    } else if (std::find(known.begin(), known.end(), words[i]) == known.end() ||
               i + 1 == words.size()) {
      return std::nullopt;
    } else {
      out.named.emplace_back(words[i], words[i + 1]);
      ++i;
    }
  }
  return out;
}

}  // namespace fairlead::verifier
