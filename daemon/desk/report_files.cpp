#include "daemon/desk/report_files.h"

#include "daemon/base/crypto.h"
#include "daemon/base/key_file.h"
#include "daemon/base/time_text.h"

namespace fairlead::desk {

v1::ReportFile report_file(const std::string& name, const std::string& media_type,
                           std::string content) {
  v1::ReportFile file;
  file.set_name(name);
  file.set_media_type(media_type);
  file.set_sha256(hex_of(sha256(content)));
  file.set_content(std::move(content));
  return file;
}

Result<std::string> make_report_folder(const std::filesystem::path& data, const std::string& name) {
  std::error_code error;
  const std::filesystem::path reports = data / "reports";
  std::filesystem::create_directories(reports, error);
  std::filesystem::path folder = reports / name;
  for (int i = 2; !error && !std::filesystem::create_directory(folder, error) && i < 1000; ++i) {
    folder = reports / (name + "-" + std::to_string(i));
  }
  if (error) {
    return fail(Code::kIo, folder.string() + ": " + error.message() + "; check the data folder");
  }
  // REPORT_ISSUED is only written of files that will still be there after a power cut.
  for (const auto& dir : {reports, data}) {
    if (auto ok = sync_folder(dir); !ok) return std::unexpected(ok.error());
  }
  return folder.string();
}

Status write_report_files(const std::filesystem::path& folder,
                          const std::vector<v1::ReportFile>& files) {
  for (const auto& file : files) {
    if (auto ok = write_private_file(folder / file.name(), file.content()); !ok) return ok;
  }
  return {};
}

std::string time_for_name(int64_t time_us) {
  std::string out;
  for (const char c : format_time_us(time_us).substr(0, 19)) {
    if (c != '-' && c != ':') out += c;
  }
  return out + "Z";
}

}  // namespace fairlead::desk
