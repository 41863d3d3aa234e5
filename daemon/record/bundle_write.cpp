#include "daemon/record/bundle.h"
#include "daemon/record/bundle_form.h"

namespace fairlead::record {
namespace {

void append_section(std::string& out, Section section, std::string_view bytes) {
  out += static_cast<char>(section);
  append_be(out, static_cast<uint64_t>(bytes.size()));
  out += bytes;
}

void append_sized(std::string& out, std::string_view bytes) {
  append_be(out, static_cast<uint32_t>(bytes.size()));
  out += bytes;
}

void append_hashes(std::string& out, const std::vector<Hash>& hashes) {
  out += static_cast<char>(hashes.size());
  for (const Hash& hash : hashes) out += view_of(hash);
}

std::string notes_section(const std::vector<std::string_view>& notes) {
  std::string out;
  for (std::string_view note : notes) append_sized(out, note);
  return out;
}

std::string entries_section(const std::vector<BundleEntry>& entries) {
  std::string out;
  for (const BundleEntry& entry : entries) {
    append_be(out, entry.leaf);
    append_be(out, static_cast<uint64_t>(entry.recv_us));
    out += view_of(entry.entry);
    append_hashes(out, entry.path);
    out += static_cast<char>(entry.form);
    if (entry.form != BodyForm::kBody) continue;
    out += view_of(entry.salt);
    append_sized(out, entry.body);
  }
  return out;
}

std::string consistency_section(const std::vector<BundleConsistency>& proofs) {
  std::string out;
  for (const BundleConsistency& proof : proofs) {
    append_be(out, proof.size);
    append_hashes(out, proof.proof);
  }
  return out;
}

std::string files_section(const std::vector<BundleFile>& files) {
  std::string out;
  for (const BundleFile& file : files) {
    out += view_of(file.sha256);
    append_sized(out, file.bytes);
  }
  return out;
}

/// Lengths that would not fit their fields; everything else read_bundle finds.
Status check_lengths(const Bundle& bundle) {
  for (const BundleEntry& entry : bundle.entries) {
    if (entry.path.size() > 63 || entry.body.size() > kMaxBodySize) {
      return fail(Code::kBadInput, "bundle: entry at leaf " + std::to_string(entry.leaf) +
                                       " has an over-long path or body");
    }
  }
  for (const BundleConsistency& proof : bundle.consistency) {
    if (proof.proof.size() > 63) return fail(Code::kBadInput, "bundle: an over-long proof");
  }
  for (const auto* files : {&bundle.files, &bundle.attachments}) {
    for (const BundleFile& file : *files) {
      if (file.bytes.size() > UINT32_MAX) {
        return fail(Code::kBadInput, "bundle: file " + hex_of(file.sha256) + " is over 4 GiB");
      }
    }
  }
  return {};
}

}  // namespace

const char* section_name(Section section) {
  static constexpr const char* kNames[] = {"?",       "META",        "HEADS", "ROSTER",
                                           "ENTRIES", "CONSISTENCY", "FILES", "ATTACHMENTS",
                                           "STAMPS",  "SEAL"};
  return kNames[static_cast<size_t>(section)];
}

std::string seal_text(std::string_view origin, std::string_view sealed_part) {
  return std::string(origin) + "/bundle\n" + hex_of(sha256(sealed_part)) + "\n";
}

Result<std::string> write_bundle(const Bundle& bundle, std::string_view origin,
                                 const VerifierKey& log, const SecretKey& secret) {
  if (auto ok = check_lengths(bundle); !ok) return std::unexpected(ok.error());
  std::string out(kBundleMagic);
  append_section(out, Section::kMeta, bundle.meta);
  append_section(out, Section::kHeads, notes_section(bundle.heads));
  append_section(out, Section::kRoster, bundle.roster);
  append_section(out, Section::kEntries, entries_section(bundle.entries));
  append_section(out, Section::kConsistency, consistency_section(bundle.consistency));
  append_section(out, Section::kFiles, files_section(bundle.files));
  append_section(out, Section::kAttachments, files_section(bundle.attachments));
  if (!bundle.stamps.empty()) append_section(out, Section::kStamps, notes_section(bundle.stamps));
  auto seal = sign_note(seal_text(origin, out), log, secret);
  if (!seal) return std::unexpected(seal.error());
  append_section(out, Section::kSeal, *seal);
  if (auto read = read_bundle(out); !read) return std::unexpected(read.error());
  return out;
}

}  // namespace fairlead::record
