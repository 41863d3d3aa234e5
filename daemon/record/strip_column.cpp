#include "daemon/record/strip_column.h"

#include <algorithm>
#include <bit>

namespace fairlead::record {
namespace {

constexpr uint32_t kHighestOrder = 2;

// Differences modulo 2^64, so that no pair of numbers overflows.
int64_t minus(int64_t a, int64_t b) {
  return static_cast<int64_t>(static_cast<uint64_t>(a) - static_cast<uint64_t>(b));
}
int64_t plus(int64_t a, int64_t b) {
  return static_cast<int64_t>(static_cast<uint64_t>(a) + static_cast<uint64_t>(b));
}

// Each further order leaves one more leading number as it is.
void difference(std::vector<int64_t>& steps, size_t from) {
  for (size_t i = steps.size(); i-- > from;) steps[i] = minus(steps[i], steps[i - 1]);
}

size_t varint_bytes(std::span<const int64_t> steps) {
  size_t bytes = 0;
  for (const int64_t step : steps) {
    const auto zigzag = (static_cast<uint64_t>(step) << 1) ^ static_cast<uint64_t>(step >> 63);
    bytes += (static_cast<size_t>(std::bit_width(zigzag | 1U)) + 6) / 7;
  }
  return bytes;
}

}  // namespace

void pack_column(std::span<const int64_t> values, v1::StripColumn& out) {
  std::vector<int64_t> steps(values.begin(), values.end());
  std::vector<int64_t> best = steps;
  size_t best_bytes = varint_bytes(best);
  out.set_order(0);
  for (uint32_t order = 1; order <= kHighestOrder && order < steps.size(); ++order) {
    difference(steps, order);
    const size_t bytes = varint_bytes(steps);
    if (bytes >= best_bytes) continue;
    best = steps;
    best_bytes = bytes;
    out.set_order(order);
  }
  out.mutable_step()->Assign(best.begin(), best.end());
}

std::optional<std::vector<int64_t>> unpack_column(const v1::StripColumn& column) {
  if (column.order() > kHighestOrder) return std::nullopt;
  std::vector<int64_t> values(column.step().begin(), column.step().end());
  for (uint32_t order = column.order(); order > 0; --order) {
    for (size_t i = order; i < values.size(); ++i) values[i] = plus(values[i], values[i - 1]);
  }
  return values;
}

}  // namespace fairlead::record
