#include "daemon/physics/default_wll.h"

#include <algorithm>
#include <array>
#include <span>

namespace fairlead::physics {
namespace {

// Smallest of the two printed sizes (mm and inch), and the printed kg; 0 = a dash.
struct WebbingRow {
  int64_t size_um;
  int kg;
};
constexpr std::array kWebbing{WebbingRow{44'450, 790}, WebbingRow{50'000, 910},
                              WebbingRow{75'000, 1360}, WebbingRow{100'000, 1810}};
constexpr std::array kWireRope{
    WebbingRow{6'350, 640},   WebbingRow{7'938, 950},   WebbingRow{9'525, 1360},
    WebbingRow{11'000, 1860}, WebbingRow{12'700, 2400}, WebbingRow{15'875, 3770},
    WebbingRow{19'050, 4940}, WebbingRow{22'000, 7300}, WebbingRow{25'000, 9480}};
// Grades 30, 43, 70, 80, 100.
struct ChainRow {
  int64_t size_um;
  std::array<int, 5> kg;
};
constexpr std::array kChain{ChainRow{6'350, {580, 1180, 1430, 1570, 1950}},
                            ChainRow{7'938, {860, 1770, 2130, 2000, 2600}},
                            ChainRow{9'525, {1200, 2450, 2990, 3200, 4000}},
                            ChainRow{11'000, {1680, 3270, 3970, 0, 0}},
                            ChainRow{12'700, {2030, 4170, 5130, 5400, 6800}},
                            ChainRow{15'875, {3130, 5910, 7170, 8200, 10300}}};

int row_kg(const WebbingRow& row, TiedownMaterial) { return row.kg; }
int row_kg(const ChainRow& row, TiedownMaterial material) {
  return row.kg[static_cast<size_t>(material) - static_cast<size_t>(TiedownMaterial::kChain30)];
}

template <typename Row, size_t N>
std::optional<int> look_up(const std::array<Row, N>& rows, TiedownMaterial material,
                           int64_t size_um) {
  int found = 0;
  for (const Row& row : rows) {
    if (row.size_um <= size_um) found = row_kg(row, material);
  }
  return found > 0 ? std::optional(found) : std::nullopt;
}

template <typename Row, size_t N>
int largest(const std::array<Row, N>& rows, TiedownMaterial material) {
  int most = 0;
  for (const Row& row : rows) most = std::max(most, row_kg(row, material));
  return most;
}

}  // namespace

std::optional<int> default_wll_kg(TiedownMaterial material, int64_t size_um) {
  if (material == TiedownMaterial::kWebbing) return look_up(kWebbing, material, size_um);
  if (material == TiedownMaterial::kWireRope) return look_up(kWireRope, material, size_um);
  return look_up(kChain, material, size_um);
}

int largest_default_wll_kg(TiedownMaterial material) {
  if (material == TiedownMaterial::kWebbing) return largest(kWebbing, material);
  if (material == TiedownMaterial::kWireRope) return largest(kWireRope, material);
  return largest(kChain, material);
}

}  // namespace fairlead::physics
