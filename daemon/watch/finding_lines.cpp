#include "daemon/watch/finding_lines.h"

#include <cstdlib>

#include "daemon/ledger/body_codec.h"

namespace fairlead::watch {

struct FindingLines::Packed {
  std::vector<size_t> ends;  // Of each line in the plain bytes.
  ledger::BodyForm form = ledger::BodyForm::kPlain;
  std::string bytes;
};

FindingLines::FindingLines(const std::vector<std::string>& lines) {
  if (lines.empty()) return;
  auto packed = std::make_shared<Packed>();
  packed->ends.reserve(lines.size());
  std::string plain;
  for (const std::string& line : lines) {
    plain += line;
    packed->ends.push_back(plain.size());
  }
  packed->form = ledger::BodyCodec().pack(plain, packed->bytes);
  packed->bytes.shrink_to_fit();
  packed_ = std::move(packed);
}

size_t FindingLines::size() const { return packed_ ? packed_->ends.size() : 0; }

std::vector<std::string> FindingLines::lines() const {
  std::vector<std::string> lines;
  if (!packed_) return lines;
  const auto plain =
      ledger::BodyCodec().unpack(packed_->form, packed_->bytes, packed_->ends.back());
  if (!plain) std::abort();  // Our own bytes, that nobody can have changed.
  lines.reserve(packed_->ends.size());
  size_t from = 0;
  for (const size_t end : packed_->ends) {
    lines.push_back(plain->substr(from, end - from));
    from = end;
  }
  return lines;
}

}  // namespace fairlead::watch
