// A vendor's driver, loaded: its manifest and file checked first, its struct checked before a
// function of it is called.
//
// Threads: one, that of the acquisition loop, apart from configure() before it starts. Ownership:
// the object stays loaded for the life of the process.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/base/result.h"
#include "fairlead/v1/plugin_service.pb.h"
#include "plugins/host/fairlead_driver.h"
#include "plugins/sdk/config.h"

namespace fairlead::host {

class Driver {
 public:
  /// Errors: kNotFound, kDenied when others may write the file or its manifest, kBadInput for
  /// another version or what is no driver. Nothing of the object has run when the manifest or the
  /// file is refused.
  static Result<Driver> load(const std::filesystem::path& file);

  /// Hands the settings over; the channels, or the driver's objection as a problem of
  /// settings.KEY.
  sdk::Problems configure(const std::vector<std::pair<std::string, std::string>>& settings,
                          std::vector<v1::PluginChannel>& channels);

  [[nodiscard]] bool open() const { return table_->open() == FAIRLEAD_NOTHING; }
  [[nodiscard]] int32_t read(fairlead_reading& out, uint32_t wait_ms) const;
  void close() const { table_->close(); }
  [[nodiscard]] std::string trouble() const;

 private:
  explicit Driver(const fairlead_driver* table) : table_(table) {}
  const fairlead_driver* table_;
};

/// The manifest beside the object alone: version 1, and nobody else may write either file.
[[nodiscard]] Status check_manifest(const std::filesystem::path& file);

}  // namespace fairlead::host
