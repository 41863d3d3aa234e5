#include "reports/pictures.h"

#include <vector>

#include "reports/python_child.h"

namespace fairlead::reports {
namespace {

constexpr size_t kLengthBytes = 8;
constexpr size_t kMostPictureBytes = 64u << 20;

void put_picture(std::string_view bytes, std::string& out) {
  for (size_t i = kLengthBytes; i-- > 0;)
    out += static_cast<char>(static_cast<uint64_t>(bytes.size()) >> (8 * i) & 0xFF);
  out += bytes;
}

// False when the answer is not what the script promises.
bool take_picture(std::string_view& rest, std::string_view& picture) {
  if (rest.size() < kLengthBytes) return false;
  uint64_t length = 0;
  for (size_t i = 0; i < kLengthBytes; ++i) length = length << 8 | static_cast<uint8_t>(rest[i]);
  rest.remove_prefix(kLengthBytes);
  if (length > rest.size()) return false;
  picture = rest.substr(0, length);
  rest.remove_prefix(length);
  return true;
}

}  // namespace

const char* picture_type(std::string_view bytes) {
  if (bytes.starts_with("\x89PNG\r\n\x1a\n")) return "image/png";
  if (bytes.starts_with("\xFF\xD8\xFF")) return "image/jpeg";
  return nullptr;
}

Result<std::map<std::string, Attachment>> page_pictures(
    const std::map<std::string, Attachment>& attachments) {
  std::vector<std::string> names;
  std::string asked;
  for (const auto& [sha256, file] : attachments) {
    if (picture_type(file.bytes) == nullptr || file.bytes.size() > kMostPictureBytes) continue;
    names.push_back(sha256);
    put_picture(file.bytes, asked);
  }
  std::map<std::string, Attachment> out;
  if (names.empty()) return out;
  PythonTask task;
  task.script = "scale_pictures.py";
  task.package = "weasyprint";
  task.arguments = {std::to_string(kLongestSide_px), std::to_string(kMostShownBytes)};
  const auto answer = run_python(task, asked);
  if (!answer) return fail(answer.error().code, "scaling the pictures: " + answer.error().message);
  std::string_view rest = *answer;
  for (const auto& name : names) {
    std::string_view picture;
    if (!take_picture(rest, picture))
      return fail(Code::kInternal, "scaling the pictures: the answer is cut short");
    if (const char* type = picture_type(picture)) out[name] = {type, std::string(picture)};
  }
  return out;
}

}  // namespace fairlead::reports
