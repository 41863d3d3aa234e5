// The definitions of RFC 6962 2.1, 2.1.1 and 2.1.2 written down word for word, slow and obvious,
// for comparison. D is a list of leaf hashes here.
#pragma once

#include <span>
#include <vector>

#include "daemon/record/merkle.h"

namespace fairlead::naive {

using Leaves = std::span<const Hash>;

inline size_t k_of(size_t n) {
  size_t k = 1;
  while (k * 2 < n) k *= 2;
  return k;
}

inline Hash mth(Leaves d) {
  if (d.empty()) return sha256("");
  if (d.size() == 1) return d[0];
  const size_t k = k_of(d.size());
  return sha256({"\x01", view_of(mth(d.first(k))), view_of(mth(d.subspan(k)))});
}

inline std::vector<Hash> path(size_t m, Leaves d) {
  if (d.size() == 1) return {};
  const size_t k = k_of(d.size());
  auto out = m < k ? path(m, d.first(k)) : path(m - k, d.subspan(k));
  out.push_back(m < k ? mth(d.subspan(k)) : mth(d.first(k)));
  return out;
}

inline std::vector<Hash> subproof(size_t m, Leaves d, bool b) {
  if (m == d.size()) return b ? std::vector<Hash>{} : std::vector<Hash>{mth(d)};
  const size_t k = k_of(d.size());
  auto out = m <= k ? subproof(m, d.first(k), b) : subproof(m - k, d.subspan(k), false);
  out.push_back(m <= k ? mth(d.subspan(k)) : mth(d.first(k)));
  return out;
}

inline std::vector<Hash> proof(size_t m, Leaves d) { return subproof(m, d, true); }

}  // namespace fairlead::naive
