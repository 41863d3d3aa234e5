#include "clients/verify/countersign_folder.h"

#include <charconv>

namespace fairlead::verifier {
namespace {

constexpr std::string_view kTitle = "fairlead cosigned v1";
constexpr size_t kLongest = 1'024;

Result<record::VerifierKey> read_vkey(const std::filesystem::path& file) {
  auto text = read_small_file(file, kLongest);
  if (!text) return std::unexpected(text.error());
  if (text->ends_with('\n')) text->pop_back();
  auto key = record::parse_verifier_key(*text);
  if (!key) return fail_at(file.string() + ": ", key.error());
  return key;
}

bool to_number(std::string_view text, uint64_t& out) {
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), out);
  return error == std::errc() && end == text.data() + text.size();
}

}  // namespace

Result<CountersignFolder> CountersignFolder::make(const std::filesystem::path& folder,
                                                  const std::string& name) {
  auto lock = FolderLock::take(folder);
  if (!lock) return std::unexpected(lock.error());
  auto secret = load_or_make_key(folder / "secret.key");
  if (!secret) return std::unexpected(secret.error());
  auto key =
      record::make_verifier_key(name, record::NoteKeyType::kCosignature, secret->public_key());
  if (!key) return std::unexpected(key.error());
  const auto known = read_vkey(folder / "vkey");
  if (known ? *known != *key : known.error().code != Code::kNotFound) {
    return fail(Code::kConflict, (folder / "vkey").string() +
                                     ": this folder has a key of another name already; use that "
                                     "one, or another folder");
  }
  if (!known) {
    const auto kept = write_private_file(folder / "vkey", record::format_verifier_key(*key) + "\n");
    if (!kept) return std::unexpected(kept.error());
  }
  return CountersignFolder(folder, std::move(*lock), std::move(*key), std::move(*secret));
}

Result<CountersignFolder> CountersignFolder::open(const std::filesystem::path& folder) {
  auto key = read_vkey(folder / "vkey");
  if (!key && key.error().code == Code::kNotFound) {
    return fail(Code::kNotFound, folder.string() +
                                     ": has no countersigner's key; make one with fairlead-verify "
                                     "countersign-key");
  }
  if (!key) return std::unexpected(key.error());
  auto lock = FolderLock::take(folder);
  if (!lock) return std::unexpected(lock.error());
  if (!std::filesystem::exists(folder / "secret.key")) {
    return fail(Code::kNotFound, (folder / "secret.key").string() + ": is missing; restore it");
  }
  auto secret = load_or_make_key(folder / "secret.key");
  if (!secret) return std::unexpected(secret.error());
  if (secret->public_key() != key->key) {
    return fail(Code::kConflict, folder.string() + ": secret.key is not the key that vkey names");
  }
  return CountersignFolder(folder, std::move(*lock), std::move(*key), std::move(*secret));
}

std::filesystem::path CountersignFolder::file_of(const std::string& origin) const {
  return folder_ / (hex_of(sha256(origin)).substr(0, 16) + ".cosigned");
}

Result<Standing> CountersignFolder::standing(const std::string& origin) const {
  const auto file = file_of(origin);
  const auto text = read_small_file(file, kLongest);
  if (!text && text.error().code == Code::kNotFound) return Standing{};
  if (!text) return std::unexpected(text.error());
  std::string_view rest = *text, lines[5];
  for (auto& line : lines) {
    const size_t end = std::min(rest.find('\n'), rest.size());
    line = rest.substr(0, end);
    rest.remove_prefix(std::min(end + 1, rest.size()));
  }
  Standing out;
  const auto raw = bytes_of_base64(lines[3], "root");
  const auto root = raw ? array_of<32>(*raw, "root") : Result<Hash>(std::unexpected(raw.error()));
  if (lines[0] != kTitle || lines[1] != origin || !rest.empty() || !root ||
      !to_number(lines[2], out.size) || !to_number(lines[4], out.at_s)) {
    return fail(Code::kCorrupt, file.string() + ": is not what was kept here for " + origin +
                                    "; restore it from a good copy, never delete it");
  }
  out.root = *root;
  return out;
}

Status CountersignFolder::keep(const std::string& origin, const Standing& standing) const {
  return write_private_file(file_of(origin), std::string(kTitle) + "\n" + origin + "\n" +
                                                 std::to_string(standing.size) + "\n" +
                                                 base64_of(view_of(standing.root)) + "\n" +
                                                 std::to_string(standing.at_s) + "\n");
}

Result<std::variant<std::string, Refused>> countersign(const CountersignFolder& folder,
                                                       std::string_view request,
                                                       const std::vector<record::VerifierKey>& logs,
                                                       uint64_t now_s) {
  using Answer = std::variant<std::string, Refused>;
  auto opened = open_request(request, logs);
  if (auto* refused = std::get_if<Refused>(&opened)) return Answer(std::move(*refused));
  const auto& known = std::get<KnownRequest>(opened);
  const auto standing = folder.standing(known.checkpoint.origin);
  if (!standing) return std::unexpected(standing.error());
  if (auto refused = check_extends(known, *standing)) return Answer(std::move(*refused));
  if (now_s < standing->at_s) {
    return fail(Code::kConflict,
                "this machine's clock stands before the last cosignature; set it right");
  }
  auto line = record::cosignature_line(known.note.text, folder.key(), folder.secret(), now_s);
  if (!line) return std::unexpected(line.error());
  // On disk before anybody has the line: else a crash would let us cosign two histories.
  const auto kept =
      folder.keep(known.checkpoint.origin, {known.checkpoint.size, known.checkpoint.root, now_s});
  if (!kept) return std::unexpected(kept.error());
  return Answer(std::move(*line));
}

}  // namespace fairlead::verifier
