// Making proofs: RFC 6962 2.1.1 and 2.1.2, with recursion unrolled over complete nodes.
#include <bit>

#include "daemon/record/merkle.h"

namespace fairlead::record {
namespace {

/// Hash of leaves [start, end), where start is a multiple of the largest power of two below
/// end - start, as every span of the recursions is.
Result<Hash> span_hash(uint64_t start, uint64_t end, const NodeAt& node_at) {
  std::vector<Hash> parts;
  while (start < end) {
    const auto level = static_cast<unsigned>(std::bit_width(end - start) - 1);
    auto hash = node_at(level, start >> level);
    if (!hash) return std::unexpected(hash.error());
    parts.push_back(*hash);
    start += uint64_t{1} << level;
  }
  Hash root = parts.back();
  for (size_t i = parts.size() - 1; i-- > 0;) root = merkle_node_hash(parts[i], root);
  return root;
}

/// The largest power of two below n, n > 1.
uint64_t split(uint64_t n) { return uint64_t{1} << (std::bit_width(n - 1) - 1); }

struct Span {
  uint64_t start;
  uint64_t end;
};

/// Turns the spans met on the way down into hashes, deepest first as proofs list them.
Result<std::vector<Hash>> hashes_of(const std::vector<Span>& spans, const NodeAt& node_at) {
  std::vector<Hash> out;
  for (size_t i = spans.size(); i-- > 0;) {
    auto hash = span_hash(spans[i].start, spans[i].end, node_at);
    if (!hash) return std::unexpected(hash.error());
    out.push_back(*hash);
  }
  return out;
}

}  // namespace

Result<Hash> root_at(uint64_t size, const NodeAt& node_at) {
  if (size == 0) return merkle_empty_root();
  return span_hash(0, size, node_at);
}

Result<std::vector<Hash>> inclusion_proof(uint64_t index, uint64_t size, const NodeAt& node_at) {
  if (index >= size) {
    return fail(Code::kBadInput, "inclusion proof: leaf " + std::to_string(index) +
                                     " is not in a tree of " + std::to_string(size) + " leaves");
  }
  std::vector<Span> siblings;
  for (uint64_t start = 0, end = size; end - start > 1;) {
    const uint64_t middle = start + split(end - start);
    if (index < middle) {
      siblings.push_back({middle, end});
      end = middle;
    } else {
      siblings.push_back({start, middle});
      start = middle;
    }
  }
  return hashes_of(siblings, node_at);
}

Result<std::vector<Hash>> consistency_proof(uint64_t from, uint64_t to, const NodeAt& node_at) {
  if (from == 0 || from > to) {
    return fail(Code::kBadInput, "consistency proof: from " + std::to_string(from) + " to " +
                                     std::to_string(to) +
                                     "; from must be 1 or more and not above to");
  }
  std::vector<Span> spans;
  uint64_t start = 0, end = to;
  // SUBPROOF of RFC 6962 2.1.2: `whole` is its b, true while the old tree is the span itself.
  bool whole = true;
  while (from != end) {
    const uint64_t middle = start + split(end - start);
    if (from <= middle) {
      spans.push_back({middle, end});
      end = middle;
    } else {
      spans.push_back({start, middle});
      start = middle;
      whole = false;
    }
  }
  if (!whole) spans.push_back({start, end});
  return hashes_of(spans, node_at);
}

}  // namespace fairlead::record
