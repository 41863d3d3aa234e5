#include "daemon/record/add_checkpoint.h"

#include <charconv>

namespace fairlead::record {
namespace {

std::unexpected<Error> bad(const std::string& words) {
  return fail(Code::kBadInput, "add-checkpoint: " + words);
}

Result<uint64_t> parse_old_line(std::string_view line) {
  constexpr std::string_view kOld = "old ";
  uint64_t size = 0;
  if (line.starts_with(kOld)) {
    const std::string_view digits = line.substr(kOld.size());
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), size);
    if (error == std::errc() && std::to_string(size) == digits && size >> 63 == 0) return size;
  }
  return bad("line 1 is not \"old\" and a tree size in plain decimal");
}

}  // namespace

std::string format_add_checkpoint(const AddCheckpoint& request) {
  std::string out = "old " + std::to_string(request.old_size) + "\n";
  for (const Hash& hash : request.proof) out += base64_of(view_of(hash)) + "\n";
  return out + "\n" + request.note;
}

Result<AddCheckpoint> parse_add_checkpoint(std::string_view bytes) {
  if (bytes.size() > kMaxAddCheckpoint) {
    return bad("is larger than " + std::to_string(kMaxAddCheckpoint) + " bytes");
  }
  AddCheckpoint out;
  for (size_t number = 1;; ++number) {
    const size_t end = bytes.find('\n');
    if (end == std::string_view::npos) return bad("has no empty line before the checkpoint");
    const std::string_view line = bytes.substr(0, end);
    bytes.remove_prefix(end + 1);
    if (number == 1) {
      const auto size = parse_old_line(line);
      if (!size) return std::unexpected(size.error());
      out.old_size = *size;
      continue;
    }
    if (line.empty()) break;
    const std::string what = "line " + std::to_string(number);
    if (out.proof.size() == kMaxProofHashes) return bad("has more than 63 hashes");
    const auto raw = bytes_of_base64(line, what);
    if (!raw) return bad(raw.error().message);
    const auto hash = array_of<32>(*raw, what);
    if (!hash) return bad(hash.error().message);
    out.proof.push_back(*hash);
  }
  out.note = bytes;
  return out;
}

}  // namespace fairlead::record
