// A plugin's configuration: TOML text in, typed values out, every mistake named by its field.
// Reading never stops at the first mistake; unknown keys are mistakes.
//
//   Config config(text);
//   Section root = config.root();
//   std::string host = root.text("host", "127.0.0.1");
//   for (Section& r : root.tables("register")) { ...; r.finish(); }
//   root.finish();
//   if (!config.problems().empty()) ...
//
// Threads: one thread at a time. Ownership: Sections keep the parsed text alive, but must not
// outlive the Config (they write into its list of problems).
#pragma once

#include <cstdint>
#include <initializer_list>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "fairlead/v1/plugin_service.pb.h"

namespace fairlead::sdk {

using Problems = std::vector<v1::PluginConfigProblem>;

class Section {
 public:
  struct Impl;
  explicit Section(std::shared_ptr<Impl> impl);

  [[nodiscard]] bool has(std::string_view key) const;
  /// No fallback: the key is required. A wrong value is a problem and gives the fallback (or
  /// empty).
  std::string text(std::string_view key, std::optional<std::string> fallback = {});
  std::string word(std::string_view key, std::initializer_list<std::string_view> allowed,
                   std::optional<std::string> fallback = {});
  int64_t whole(std::string_view key, int64_t lo, int64_t hi, std::optional<int64_t> fallback = {});
  double number(std::string_view key, double lo, double hi, std::optional<double> fallback = {});
  std::vector<int64_t> whole_list(std::string_view key, int64_t lo, int64_t hi);
  /// An array of tables ([[key]]); empty when absent.
  std::vector<Section> tables(std::string_view key);
  /// One table ([key]); none when absent.
  std::optional<Section> table(std::string_view key);

  /// Every key not asked for yet, with its value as text, for someone else to check; a table or a
  /// list is a problem.
  std::vector<std::pair<std::string, std::string>> rest();

  /// Adds a problem about one key of this section.
  void wrong(std::string_view key, std::string problem, std::string remedy);
  /// Every key that was not asked for is a problem. Call once all keys were read.
  void finish();

 private:
  std::shared_ptr<Impl> impl_;
};

class Config {
 public:
  /// Text over 256 kB, or not TOML, is a problem (with line and column) and reads as empty.
  explicit Config(std::string_view toml);
  [[nodiscard]] Section root();
  [[nodiscard]] const Problems& problems() const { return *problems_; }
  /// False when the text was no TOML at all: then nothing else is worth saying.
  [[nodiscard]] bool readable() const { return readable_; }

 private:
  std::unique_ptr<Problems> problems_;
  std::shared_ptr<Section::Impl> root_;
  bool readable_ = true;
};

}  // namespace fairlead::sdk
