// Files of a report: into the base's reports folder and into the answer.
//
// Threads: as Desk.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/base/result.h"
#include "fairlead/v1/claims_service.pb.h"

namespace fairlead::desk {

[[nodiscard]] v1::ReportFile report_file(const std::string& name, const std::string& media_type,
                                         std::string content);

/// Makes DATA/reports/NAME (with -2, -3 ... when it is there already), for this user only. Errors:
/// kIo naming the path.
[[nodiscard]] Result<std::string> make_report_folder(const std::filesystem::path& data,
                                                     const std::string& name);
/// Writes every file into such a folder; all are on disk when it returns. Errors: kIo.
[[nodiscard]] Status write_report_files(const std::filesystem::path& folder,
                                        const std::vector<v1::ReportFile>& files);

/// "20270331T115200Z".
[[nodiscard]] std::string time_for_name(int64_t time_us);

}  // namespace fairlead::desk
