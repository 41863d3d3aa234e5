// A whole base desk in a temporary folder, without gRPC: for tests of its services.
#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "daemon/desk/desk.h"

namespace fairlead::desk {

class SmallDesk {
 public:
  /// Aborts with the error's words when the base cannot be opened.
  explicit SmallDesk(const std::string& base_name = "ozzlewick");
  ~SmallDesk();
  SmallDesk(const SmallDesk&) = delete;
  SmallDesk& operator=(const SmallDesk&) = delete;

  [[nodiscard]] Desk& desk() { return *desk_; }
  [[nodiscard]] const std::filesystem::path& folder() const { return folder_; }
  /// Puts a file of the source tree on record as a procedure or register file.
  void put_file(const std::filesystem::path& path);
  /// Waits until the job is judged (10 s); false when it is not.
  [[nodiscard]] bool judged(const std::string& name);

 private:
  std::filesystem::path folder_;
  std::unique_ptr<watch::Office> office_;
  std::unique_ptr<watch::Shelf> shelf_;
  std::unique_ptr<watch::Watch> watch_;
  std::unique_ptr<intake::Devices> devices_;
  std::unique_ptr<watch::Recorder> import_;
  std::unique_ptr<Desk> desk_;
};

}  // namespace fairlead::desk
