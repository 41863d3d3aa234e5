#include "daemon/base/units.h"

#include <fmt/format.h>

#include <array>
#include <limits>
#include <numeric>
#include <optional>

namespace fairlead {
namespace {

using Wide = __int128;

struct Unit {
  std::string_view name;
  Dimension dimension;
  int64_t num, den;  // Stored units in one of this unit.
};

constexpr std::array kUnits{
    Unit{"mm", Dimension::kLength, 1, 1},
    Unit{"cm", Dimension::kLength, 10, 1},
    Unit{"m", Dimension::kLength, 1000, 1},
    Unit{"km", Dimension::kLength, 1'000'000, 1},
    Unit{"in", Dimension::kLength, 127, 5},
    Unit{"ft", Dimension::kLength, 1524, 5},
    Unit{"mi", Dimension::kLength, 1'609'344, 1},
    Unit{"mm/s", Dimension::kSpeed, 1, 1},
    Unit{"m/s", Dimension::kSpeed, 1000, 1},
    Unit{"km/h", Dimension::kSpeed, 2500, 9},
    Unit{"mph", Dimension::kSpeed, 11176, 25},
    Unit{"m/min", Dimension::kSpeed, 50, 3},
    Unit{"ft/min", Dimension::kSpeed, 127, 25},
    Unit{"N", Dimension::kForce, 1, 1},
    Unit{"daN", Dimension::kForce, 10, 1},
    Unit{"kN", Dimension::kForce, 1000, 1},
    Unit{"lbf", Dimension::kForce, 44'482'216'152'605, 10'000'000'000'000},
    Unit{"g", Dimension::kMass, 1, 1},
    Unit{"kg", Dimension::kMass, 1000, 1},
    Unit{"t", Dimension::kMass, 1'000'000, 1},
    Unit{"lb", Dimension::kMass, 45'359'237, 100'000},
    Unit{"mV", Dimension::kVoltage, 1, 1},
    Unit{"V", Dimension::kVoltage, 1000, 1},
    Unit{"mA", Dimension::kCurrent, 1, 1},
    Unit{"A", Dimension::kCurrent, 1000, 1},
    Unit{"us", Dimension::kTime, 1, 1},
    Unit{"ms", Dimension::kTime, 1000, 1},
    Unit{"s", Dimension::kTime, 1'000'000, 1},
    Unit{"min", Dimension::kTime, 60'000'000, 1},
    Unit{"h", Dimension::kTime, 3'600'000'000, 1},
    Unit{"d", Dimension::kTime, 86'400'000'000, 1},
    Unit{"mdeg", Dimension::kAngle, 1, 1},
    Unit{"deg", Dimension::kAngle, 1000, 1},
    Unit{"degC", Dimension::kTemperature, 100, 1},
    Unit{"K", Dimension::kTemperature, 100, 1},
    Unit{"mm/s2", Dimension::kAcceleration, 1, 1},
    Unit{"m/s2", Dimension::kAcceleration, 1000, 1},
    Unit{"%", Dimension::kShare, 10'000, 1},
    Unit{"", Dimension::kShare, 1'000'000, 1},
    Unit{"items", Dimension::kCount, 1, 1},
    Unit{"", Dimension::kCount, 1, 1},
};

const Unit* find_unit(std::string_view name, Dimension wanted) {
  for (const Unit& unit : kUnits) {
    if (unit.name == name && unit.dimension == wanted) return &unit;
  }
  return nullptr;
}

const Unit* find_unit_of_any(std::string_view name) {
  for (const Unit& unit : kUnits) {
    if (unit.name == name) return &unit;
  }
  return nullptr;
}

Wide gcd_of(Wide a, Wide b) {
  if (a < 0) a = -a;
  while (b != 0) {
    const Wide rest = a % b;
    a = b;
    b = rest;
  }
  return a;
}

std::optional<Rational> reduce(Wide num, Wide den) {
  const Wide common = gcd_of(num, den);
  if (common > 1) {
    num /= common;
    den /= common;
  }
  constexpr Wide kMax = std::numeric_limits<int64_t>::max();
  if (num > kMax || num < -kMax || den > kMax) return std::nullopt;
  return Rational{static_cast<int64_t>(num), static_cast<int64_t>(den)};
}

struct Decimal {
  int64_t num = 0, den = 1;
  size_t length = 0;  // Characters read; 0 = not a number.
};

// Sign, digits, optional point and digits; at most 15 significant places so that it stays exact.
Decimal read_decimal(std::string_view text) {
  Decimal value;
  size_t pos = 0;
  const bool negative = !text.empty() && text[0] == '-';
  if (negative || (!text.empty() && text[0] == '+')) ++pos;
  int places = 0;
  bool point = false, any = false;
  for (; pos < text.size(); ++pos) {
    const char c = text[pos];
    if (c == '.' && !point) {
      point = true;
      continue;
    }
    if (c < '0' || c > '9') break;
    if (++places > 15) return {};
    value.num = value.num * 10 + (c - '0');
    if (point) value.den *= 10;
    any = true;
  }
  if (!any || text[pos - 1] == '.') return {};
  if (negative) value.num = -value.num;
  value.length = pos;
  return value;
}

Wide floor_div(Wide a, Wide b) {
  const Wide quotient = a / b;
  return (a % b != 0 && (a < 0) != (b < 0)) ? quotient - 1 : quotient;
}

}  // namespace

std::string unit_names(Dimension dimension) {
  std::string names;
  for (const Unit& unit : kUnits) {
    if (unit.dimension != dimension || unit.name.empty()) continue;
    if (!names.empty()) names += ", ";
    names += unit.name;
  }
  return names;
}

int64_t Quantity::floor() const { return static_cast<int64_t>(floor_div(stored.num, stored.den)); }
int64_t Quantity::ceil() const {
  return static_cast<int64_t>(-floor_div(-Wide{stored.num}, stored.den));
}
int64_t Quantity::nearest() const {
  return static_cast<int64_t>(floor_div(Wide{stored.num} * 2 + stored.den, Wide{stored.den} * 2));
}

Result<Quantity> parse_quantity(std::string_view text, Dimension wanted) {
  const auto refuse = [&](std::string_view why) {
    return fail(Code::kBadInput, fmt::format("'{}' {}; write a number and one of: {}",
                                             text.substr(0, 60), why, unit_names(wanted)));
  };
  const Decimal number = read_decimal(text);
  if (number.length == 0) return refuse("is not " + a_dimension(wanted));
  std::string_view unit_name = text.substr(number.length);
  if (unit_name.size() > 1 && unit_name[0] == ',' && unit_name[1] >= '0' && unit_name[1] <= '9')
    return fail(Code::kBadInput,
                fmt::format("'{}' has a comma; write a point before decimals, as \"1.5\", and "
                            "nothing between thousands",
                            text.substr(0, 60)));
  while (!unit_name.empty() && unit_name.front() == ' ') unit_name.remove_prefix(1);
  while (!unit_name.empty() && unit_name.back() == ' ') unit_name.remove_suffix(1);
  const Unit* unit = find_unit(unit_name, wanted);
  if (unit == nullptr) {
    const Unit* other = find_unit_of_any(unit_name);
    if (unit_name.empty()) return refuse("has no unit");
    if (other == nullptr) return refuse(fmt::format("has the unknown unit '{}'", unit_name));
    return refuse(
        fmt::format("is {}, but {} is wanted", a_dimension(other->dimension), a_dimension(wanted)));
  }
  const auto stored = reduce(Wide{number.num} * unit->num, Wide{number.den} * unit->den);
  if (!stored) return refuse("is too large to hold exactly");
  return Quantity{*stored, wanted, std::string(unit_name)};
}

Result<Rational> unit_factor(std::string_view name, Dimension wanted) {
  const Unit* unit = find_unit(name, wanted);
  if (unit == nullptr) {
    return fail(Code::kBadInput, fmt::format("'{}' is no unit of {}; use one of: {}", name,
                                             dimension_name(wanted), unit_names(wanted)));
  }
  return Rational{unit->num, unit->den};
}

std::string_view dimension_name(Dimension dimension) {
  constexpr std::array<std::string_view, 12> kNames{
      "length", "speed", "force",       "mass",         "voltage", "current",
      "time",   "angle", "temperature", "acceleration", "share",   "count"};
  return kNames[static_cast<size_t>(dimension)];
}

std::string a_dimension(Dimension dimension) {
  const std::string_view name = dimension_name(dimension);
  return fmt::format("{} {}", name.starts_with('a') ? "an" : "a", name);
}

std::string_view display_unit(Dimension dimension) {
  constexpr std::array<std::string_view, 12> kNames{"m", "km/h", "kN",   "kg",   "V", "A",
                                                    "s", "deg",  "degC", "m/s2", "%", "items"};
  return kNames[static_cast<size_t>(dimension)];
}

std::string format_in_unit(int64_t stored, Rational factor, int decimals, Toward toward) {
  Wide scale = 1;
  for (int i = 0; i < decimals; ++i) scale *= 10;
  const Wide num = Wide{stored} * factor.den * scale;
  const Wide den = factor.num;
  Wide scaled = 0;
  switch (toward) {
    case Toward::kDown:
      scaled = floor_div(num, den);
      break;
    case Toward::kUp:
      scaled = -floor_div(-num, den);
      break;
    case Toward::kNearest:
      scaled = floor_div(num * 2 + den, den * 2);
      break;
  }
  const bool negative = scaled < 0;
  if (negative) scaled = -scaled;
  const auto whole = static_cast<int64_t>(scaled / scale);
  std::string text = fmt::format("{}{}", negative ? "-" : "", whole);
  if (decimals > 0) {
    std::string rest = fmt::format("{:0{}}", static_cast<int64_t>(scaled % scale), decimals);
    while (!rest.empty() && rest.back() == '0') rest.pop_back();
    if (!rest.empty()) text += "." + rest;
  }
  return text;
}

}  // namespace fairlead
