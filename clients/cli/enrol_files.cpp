#include "clients/cli/enrol_files.h"

#include <iostream>

#include "daemon/base/key_file.h"
#include "daemon/base/tls_files.h"

namespace fairlead::cli {

void add_dry_run(CLI::App* command, bool& dry_run) {
  command->add_flag("--dry-run", dry_run, "Say what would be written, write nothing");
}

Status put_file(const std::filesystem::path& file, std::string_view bytes, std::string_view what,
                bool dry_run) {
  if (!dry_run) {
    std::error_code error;
    if (file.has_parent_path()) std::filesystem::create_directories(file.parent_path(), error);
    if (auto ok = write_private_file(file, bytes); !ok) return ok;
  }
  std::cout << (dry_run ? "would write " : "wrote ") << file.string() << "  " << what << "\n";
  return {};
}

Status make_file(const std::filesystem::path& file, std::string_view bytes, std::string_view what,
                 bool dry_run) {
  std::error_code error;
  if (std::filesystem::exists(file, error)) {
    return fail(Code::kConflict,
                file.string() + ": is there already and stays; name another file or folder");
  }
  return put_file(file, bytes, what, dry_run);
}

Result<SecretKey> key_file(const std::filesystem::path& file, std::string_view what, bool dry_run) {
  std::error_code error;
  if (std::filesystem::exists(file, error)) return read_key(file);
  SecretKey key = SecretKey::generate();
  if (auto ok = make_file(file, key.to_text().view(), what, dry_run); !ok) {
    return std::unexpected(ok.error());
  }
  return key;
}

Result<SecretKey> read_key(const std::filesystem::path& file) {
  const auto text = read_secret_file(file);
  if (!text) return std::unexpected(text.error());
  auto key = SecretKey::from_text(text->view());
  if (!key) return fail_at(file.string() + ": ", key.error());
  return key;
}

Result<record::VerifierKey> named_key(const std::string& name, const SecretKey& key) {
  return record::make_verifier_key(name, record::NoteKeyType::kEd25519, key.public_key());
}

}  // namespace fairlead::cli
