// What the commands of `fairlead enrol` share: files made or only named (--dry-run), never
// overwritten when they hold a key.
//
// Threads: one.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "clients/cli/base_call.h"
#include "daemon/base/crypto.h"
#include "daemon/record/note.h"

namespace fairlead::cli {

/// Adds --dry-run.
void add_dry_run(CLI::App* command, bool& dry_run);

/// Writes a file 0600 and says so; with dry_run only says what would be written. Errors: kConflict
/// when it is there already.
[[nodiscard]] Status make_file(const std::filesystem::path& file, std::string_view bytes,
                               std::string_view what, bool dry_run);
/// The same for a file that may be replaced.
[[nodiscard]] Status put_file(const std::filesystem::path& file, std::string_view bytes,
                              std::string_view what, bool dry_run);

/// A signing key in `file`; made when it is not there.
[[nodiscard]] Result<SecretKey> key_file(const std::filesystem::path& file, std::string_view what,
                                         bool dry_run);
/// An existing one, refused when others may read it.
[[nodiscard]] Result<SecretKey> read_key(const std::filesystem::path& file);

[[nodiscard]] Result<record::VerifierKey> named_key(const std::string& name, const SecretKey& key);

// The parts of `fairlead enrol`, one file each.
void add_enrol_roster(CLI::App* enrol);
void add_enrol_truck(CLI::App* enrol);
void add_enrol_certificate(CLI::App* enrol);

}  // namespace fairlead::cli
