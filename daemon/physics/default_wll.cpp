#include "daemon/physics/default_wll.h"

#include <algorithm>
#include <array>
#include <span>

namespace fairlead::physics {
namespace {

// `size_um` is the smaller of the two printed sizes (mm and inch). 0 kg: a dash.
struct Row {
  int64_t size_um;
  PrintedWll wll;
};
constexpr auto kRead = Standing::kPublished;
// Pound column in a second transcription, kg column from memory.
constexpr auto kMemory = Standing::kMemory;

constexpr std::array kWebbing{Row{44'450, {790, 1750, kRead}}, Row{50'000, {910, 2000, kRead}},
                              Row{75'000, {1360, 3000, kRead}}, Row{100'000, {1810, 4000, kRead}}};

constexpr std::array<int64_t, 6> kChainSizes{6'350, 7'938, 9'525, 11'000, 12'700, 15'875};
using ChainColumn = std::array<PrintedWll, 6>;
constexpr PrintedWll kDash{0, 0, kRead};
constexpr ChainColumn kProofCoil30{{{580, 1300, kRead},
                                    {860, 1900, kRead},
                                    {1200, 2650, kRead},
                                    {1680, 3700, kRead},
                                    {2030, 4500, kRead},
                                    {3130, 6900, kRead}}};
constexpr ChainColumn kHighTest43{{{1180, 2600, kRead},
                                   {1770, 3900, kRead},
                                   {2450, 5400, kRead},
                                   {3270, 7200, kRead},
                                   {4170, 9200, kRead},
                                   {5910, 13000, kRead}}};
constexpr ChainColumn kTransport70{{{1430, 3150, kRead},
                                    {2130, 4700, kRead},
                                    {2990, 6600, kRead},
                                    {3970, 8750, kRead},
                                    {5130, 11300, kRead},
                                    {7170, 15800, kRead}}};
// At 8 mm (5/16 in) grade 80 stands below grade 70, as printed.
constexpr ChainColumn kAlloy80{{{1570, 3500, kRead},
                                {2000, 4500, kRead},
                                {3200, 7100, kRead},
                                kDash,
                                {5400, 12000, kRead},
                                {8200, 18100, kRead}}};
constexpr ChainColumn kAlloy100{{{1950, 4300, kRead},
                                 {2600, 5700, kRead},
                                 {4000, 8800, kRead},
                                 kDash,
                                 {6800, 15000, kRead},
                                 {10300, 22600, kRead}}};

constexpr std::array<Row, 6> chain(const ChainColumn& column) {
  std::array<Row, 6> rows{};
  for (size_t i = 0; i < rows.size(); ++i) rows[i] = {kChainSizes[i], column[i]};
  return rows;
}
constexpr auto kChain30 = chain(kProofCoil30), kChain43 = chain(kHighTest43),
               kChain70 = chain(kTransport70), kChain80 = chain(kAlloy80),
               kChain100 = chain(kAlloy100);

constexpr std::array kWireRope{
    Row{6'350, {640, 1400, kRead}},     Row{7'938, {950, 2100, kRead}},
    Row{9'525, {1360, 3000, kRead}},    Row{11'000, {1860, 4100, kRead}},
    Row{12'700, {2400, 5300, kRead}},   Row{15'875, {3770, 8300, kRead}},
    Row{19'050, {4940, 10900, kRead}},  Row{22'000, {7300, 16100, kMemory}},
    Row{25'000, {9480, 20900, kMemory}}};

constexpr std::array<int64_t, 6> kCordageSizes{9'525, 11'000, 12'700, 15'875, 19'050, 25'000};
constexpr std::array<Row, 6> cordage(const std::array<int, 6>& kg, const std::array<int, 6>& lb) {
  std::array<Row, 6> rows{};
  for (size_t i = 0; i < rows.size(); ++i) rows[i] = {kCordageSizes[i], {kg[i], lb[i], kMemory}};
  return rows;
}
constexpr auto kManila = cordage({90, 120, 150, 210, 290, 480}, {205, 265, 315, 465, 640, 1050});
constexpr auto kPolypropylene =
    cordage({180, 240, 280, 420, 580, 950}, {400, 525, 625, 925, 1275, 2100});
constexpr auto kPolyester =
    cordage({250, 340, 440, 680, 850, 1500}, {555, 750, 960, 1500, 1880, 3300});
// One transcription has these two columns the other way round; so a cordage table and memory.
constexpr auto kNylon = cordage({130, 190, 240, 420, 640, 1140}, {278, 410, 525, 935, 1420, 2520});
constexpr auto kDoubleNylon =
    cordage({150, 230, 300, 510, 830, 1470}, {336, 502, 655, 1130, 1840, 3250});

struct StrappingRow {
  int64_t width_um, thickness_um;
  PrintedWll wll;
};
constexpr std::array kStrapping{StrappingRow{31'700, 736, {540, 1190, kMemory}},
                                StrappingRow{31'700, 787, {540, 1190, kMemory}},
                                StrappingRow{31'700, 889, {540, 1190, kMemory}},
                                StrappingRow{31'700, 1117, {770, 1690, kMemory}},
                                StrappingRow{31'700, 1270, {770, 1690, kMemory}},
                                StrappingRow{31'700, 1447, {870, 1925, kMemory}},
                                StrappingRow{50'800, 1117, {1200, 2650, kMemory}},
                                StrappingRow{50'800, 1270, {1200, 2650, kMemory}}};

std::span<const Row> rows_of(TiedownMaterial material) {
  using M = TiedownMaterial;
  switch (material) {
    case M::kWebbing:
      return kWebbing;
    case M::kChain30:
      return kChain30;
    case M::kChain43:
      return kChain43;
    case M::kChain70:
      return kChain70;
    case M::kChain80:
      return kChain80;
    case M::kChain100:
      return kChain100;
    case M::kWireRope:
      return kWireRope;
    case M::kManila:
      return kManila;
    case M::kPolypropylene:
      return kPolypropylene;
    case M::kPolyester:
      return kPolyester;
    case M::kNylon:
      return kNylon;
    case M::kDoubleNylon:
      return kDoubleNylon;
  }
  return {};
}

}  // namespace

std::optional<TiedownMaterial> chain_of_mark(std::string_view mark) {
  struct Marks {
    TiedownMaterial chain;
    std::array<std::string_view, 3> marks;
  };
  constexpr std::array kMarks{Marks{TiedownMaterial::kChain30, {"3", "30", "300"}},
                              Marks{TiedownMaterial::kChain43, {"4", "43", "430"}},
                              Marks{TiedownMaterial::kChain70, {"7", "70", "700"}},
                              Marks{TiedownMaterial::kChain80, {"8", "80", "800"}},
                              Marks{TiedownMaterial::kChain100, {"10", "100", "1000"}}};
  for (const Marks& row : kMarks) {
    if (std::ranges::find(row.marks, mark) != row.marks.end()) return row.chain;
  }
  return std::nullopt;
}

std::optional<PrintedWll> printed_wll(TiedownMaterial material, int64_t size_um) {
  PrintedWll found{};
  for (const Row& row : rows_of(material)) {
    if (row.size_um <= size_um) found = row.wll;
  }
  return found.kg > 0 ? std::optional(found) : std::nullopt;
}

std::optional<PrintedWll> printed_strapping_wll(int64_t width_um, int64_t thickness_um) {
  PrintedWll found{};
  for (const StrappingRow& row : kStrapping) {
    const bool fits = row.width_um <= width_um && row.thickness_um <= thickness_um;
    if (fits && row.wll.kg > found.kg) found = row.wll;
  }
  return found.kg > 0 ? std::optional(found) : std::nullopt;
}

std::optional<int> default_wll_kg(TiedownMaterial material, int64_t size_um) {
  const auto row = printed_wll(material, size_um);
  return row ? std::optional(row->kg) : std::nullopt;
}

int largest_default_wll_kg(TiedownMaterial material) {
  int most = 0;
  for (const Row& row : rows_of(material)) most = std::max(most, row.wll.kg);
  return most;
}

}  // namespace fairlead::physics
