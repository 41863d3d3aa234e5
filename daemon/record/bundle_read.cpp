#include <optional>

#include "daemon/record/bundle.h"
#include "daemon/record/bundle_form.h"
#include "daemon/record/merkle.h"

namespace fairlead::record {
namespace {

std::unexpected<Error> bad(Section section, std::string_view words) {
  return fail(Code::kBadInput,
              "bundle section " + std::string(section_name(section)) + ": " + std::string(words));
}

/// Takes bytes off the front; after the first shortage everything fails.
class Cursor {
 public:
  explicit Cursor(std::string_view bytes) : rest_(bytes) {}
  [[nodiscard]] bool at_end() const { return rest_.empty(); }
  [[nodiscard]] bool take(uint64_t size, std::string_view& out) {
    if (size > rest_.size()) return false;
    out = rest_.substr(0, static_cast<size_t>(size));
    rest_.remove_prefix(static_cast<size_t>(size));
    return true;
  }
  template <typename T>
  [[nodiscard]] bool take_be(T& out) {
    std::string_view bytes;
    if (!take(sizeof(T), bytes)) return false;
    out = get_be<T>(reinterpret_cast<const uint8_t*>(bytes.data()));
    return true;
  }
  template <size_t N>
  [[nodiscard]] bool take_array(ByteArray<N>& out) {
    std::string_view bytes;
    if (!take(N, bytes)) return false;
    std::memcpy(out.data(), bytes.data(), N);
    return true;
  }
  [[nodiscard]] bool take_sized(std::string_view& out) {
    uint32_t size = 0;
    return take_be(size) && take(size, out);
  }
  /// u8 n, n x 32.
  [[nodiscard]] bool take_hashes(std::vector<Hash>& out) {
    uint8_t count = 0;
    std::string_view bytes;
    if (!take_be(count) || count > kMaxProofHashes || !take(count * 32u, bytes)) return false;
    out.resize(count);
    if (count != 0) std::memcpy(out.data(), bytes.data(), bytes.size());
    return true;
  }

 private:
  std::string_view rest_;
};

Status read_notes(Section section, std::string_view bytes, size_t cap,
                  std::vector<std::string_view>& out) {
  for (Cursor cursor(bytes); !cursor.at_end();) {
    std::string_view note;
    if (out.size() == cap) return bad(section, "more than " + std::to_string(cap) + " records");
    if (!cursor.take_sized(note)) return bad(section, "ends inside a record");
    if (note.size() > kMaxNoteSize) return bad(section, "a record is over 1,000,000 bytes");
    out.push_back(note);
  }
  return {};
}

bool take_form(Cursor& cursor, BundleEntry& entry) {
  uint8_t form = 0;
  if (!cursor.take_be(form) || form > static_cast<uint8_t>(BodyForm::kErased)) return false;
  entry.form = static_cast<BodyForm>(form);
  if (entry.form != BodyForm::kBody) return true;
  return cursor.take_array(entry.salt) && cursor.take_sized(entry.body) &&
         entry.body.size() <= kMaxBodySize;
}

Status read_entries(std::string_view bytes, std::vector<BundleEntry>& out) {
  // The smallest record is 306 bytes, so the count is bounded by what is really there.
  for (Cursor cursor(bytes); !cursor.at_end();) {
    const std::string where = "record " + std::to_string(out.size() + 1);
    if (out.size() == kMaxBundleEntries) return bad(Section::kEntries, "more than 1,000,000");
    BundleEntry entry;
    uint64_t recv_us = 0;
    if (!cursor.take_be(entry.leaf) || !cursor.take_be(recv_us) ||
        !cursor.take_array(entry.entry) || !cursor.take_hashes(entry.path) ||
        !take_form(cursor, entry)) {
      return bad(Section::kEntries, where + " is cut off or has a length or form out of range");
    }
    entry.recv_us = static_cast<int64_t>(recv_us);
    if (!out.empty() && entry.leaf <= out.back().leaf) {
      return bad(Section::kEntries, where + ": leaves do not ascend");
    }
    if (auto header = decode_header(entry.entry); !header) {
      return bad(Section::kEntries, where + ": " + header.error().message);
    }
    out.push_back(std::move(entry));
  }
  return {};
}

Status read_consistency(std::string_view bytes, std::vector<BundleConsistency>& out) {
  for (Cursor cursor(bytes); !cursor.at_end();) {
    BundleConsistency proof;
    if (out.size() == kMaxBundleEntries) return bad(Section::kConsistency, "more than 1,000,000");
    if (!cursor.take_be(proof.size) || !cursor.take_hashes(proof.proof)) {
      return bad(Section::kConsistency, "a record is cut off or has over 63 hashes");
    }
    if (proof.size == 0 || (!out.empty() && proof.size <= out.back().size)) {
      return bad(Section::kConsistency, "sizes do not ascend from 1");
    }
    out.push_back(std::move(proof));
  }
  return {};
}

Status read_files(Section section, std::string_view bytes, std::vector<BundleFile>& out) {
  for (Cursor cursor(bytes); !cursor.at_end();) {
    BundleFile file;
    if (out.size() == kMaxBundleFiles) return bad(section, "more than 100,000 files");
    if (!cursor.take_array(file.sha256) || !cursor.take_sized(file.bytes)) {
      return bad(section, "a file is cut off");
    }
    if (!out.empty() && file.sha256 <= out.back().sha256) {
      return bad(section, "files are not in ascending order of their hash");
    }
    out.push_back(file);
  }
  return {};
}

Status read_section(Section section, std::string_view bytes, Bundle& out) {
  switch (section) {
    case Section::kMeta:
      out.meta = bytes;
      return {};
    case Section::kHeads:
      return read_notes(section, bytes, kMaxBundleHeads, out.heads);
    case Section::kRoster:
      out.roster = bytes;
      return {};
    case Section::kEntries:
      return read_entries(bytes, out.entries);
    case Section::kConsistency:
      return read_consistency(bytes, out.consistency);
    case Section::kFiles:
      return read_files(section, bytes, out.files);
    case Section::kAttachments:
      return read_files(section, bytes, out.attachments);
    case Section::kStamps:
      return read_notes(section, bytes, kMaxBundleHeads, out.stamps);
    case Section::kSeal:
      out.seal = bytes;
      return {};
  }
  return fail(Code::kBadInput, "bundle: unknown section");
}

Status check_presence(const Bundle& bundle, unsigned seen) {
  for (const Section needed :
       {Section::kMeta, Section::kHeads, Section::kRoster, Section::kEntries, Section::kSeal}) {
    if ((seen >> static_cast<unsigned>(needed) & 1) == 0) return bad(needed, "is missing");
  }
  if (bundle.heads.empty()) return bad(Section::kHeads, "holds no head");
  if (bundle.entries.empty()) return bad(Section::kEntries, "holds no entry");
  return {};
}

}  // namespace

Result<Bundle> read_bundle(std::string_view bytes) {
  if (bytes.size() > kMaxBundleSize) return fail(Code::kBadInput, "bundle: over 4 GiB");
  if (!bytes.starts_with(kBundleMagic)) {
    return fail(Code::kBadInput,
                "bundle: does not begin with \"FLB1\"; give bundle.flb or the PDF report that "
                "carries it");
  }
  Bundle out;
  unsigned seen = 0;
  uint8_t previous = 0;
  Cursor cursor(bytes.substr(kBundleMagic.size()));
  size_t used = kBundleMagic.size();
  while (!cursor.at_end()) {
    uint8_t type = 0;
    uint64_t size = 0;
    std::string_view body;
    if (!cursor.take_be(type) || !cursor.take_be(size) || !cursor.take(size, body)) {
      return fail(Code::kBadInput, "bundle: cut off inside a section; fetch it again");
    }
    if (type <= previous || type > static_cast<uint8_t>(Section::kSeal)) {
      return fail(Code::kBadInput,
                  "bundle: section " + std::to_string(type) + " is unknown or out of order");
    }
    previous = type;
    seen |= 1u << type;
    const auto section = static_cast<Section>(type);
    if (section == Section::kSeal) out.sealed_part = bytes.substr(0, used);
    used += 9 + body.size();
    if (auto ok = read_section(section, body, out); !ok) return std::unexpected(ok.error());
  }
  if (auto ok = check_presence(out, seen); !ok) return std::unexpected(ok.error());
  return out;
}

}  // namespace fairlead::record
