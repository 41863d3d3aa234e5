// Known answers published by others, one folder of JSON files outside the repository: where
// FAIRLEAD_VECTORS points, else ../shared/vectors beside the source tree.
//
// Their absence fails the test, so that nobody believes they were checked; with
// FAIRLEAD_VECTORS_OPTIONAL=1 it is a printed warning instead.
#pragma once

#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "daemon/record/merkle.h"

namespace fairlead::vectors {

inline std::filesystem::path folder() {
  if (const char* named = std::getenv("FAIRLEAD_VECTORS"); named != nullptr) return named;
  return std::filesystem::path(FAIRLEAD_SOURCE_DIR).parent_path() / "shared" / "vectors";
}

/// Every JSON value of the file: one of a .json file, one a line of a .jsonl file.
inline std::optional<std::vector<nlohmann::json>> load(const std::string& name) {
  std::ifstream in(folder() / name);
  if (!in) {
    const std::string words = "KNOWN ANSWERS ABSENT: " + (folder() / name).string() +
                              " cannot be read; set FAIRLEAD_VECTORS to the folder that has it";
    if (std::getenv("FAIRLEAD_VECTORS_OPTIONAL") != nullptr) {
      std::cerr << "\n*** WARNING: " << words << " ***\n\n";
    } else {
      ADD_FAILURE() << words << " (or FAIRLEAD_VECTORS_OPTIONAL=1 to go on without)";
    }
    return std::nullopt;
  }
  std::vector<nlohmann::json> out;
  if (name.ends_with(".jsonl")) {
    for (std::string line; std::getline(in, line);) {
      if (!line.empty()) out.push_back(nlohmann::json::parse(line));
    }
  } else {
    out.push_back(nlohmann::json::parse(in));
  }
  return out;
}

inline std::string from_hex(const nlohmann::json& text) {
  auto bytes = bytes_of_hex(text.get<std::string>(), "vector");
  EXPECT_TRUE(bytes.has_value());
  return bytes.value_or("");
}

inline Hash hash_from_hex(const nlohmann::json& text) {
  auto hash = array_of<32>(from_hex(text), "vector");
  EXPECT_TRUE(hash.has_value());
  return hash.value_or(Hash{});
}

inline std::vector<Hash> hashes_from_hex(const nlohmann::json& list) {
  std::vector<Hash> out;
  for (const auto& text : list) out.push_back(hash_from_hex(text));
  return out;
}

}  // namespace fairlead::vectors
