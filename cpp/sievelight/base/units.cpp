// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/units.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cctype>
#include <map>
#include <vector>

namespace sievelight {
namespace {

using Table = std::map<std::string, double>;

// Lengths in nm; every other length table is derived from this one.
const Table lengths_nm{{"m", 1e9},   {"meter", 1e9},      {"metre", 1e9}, {"cm", 1e7},
                       {"mm", 1e6},  {"millimeter", 1e6}, {"um", 1e3},    {"micron", 1e3},
                       {"nm", 1.0},  {"nanometer", 1.0},  {"pm", 1e-3},   {"a", 0.1},
                       {"ang", 0.1}, {"angstrom", 0.1},   {"å", 0.1},     {"Å", 0.1}};
const Table times_s{{"s", 1.0},   {"sec", 1.0},  {"second", 1.0},  {"ms", 1e-3},  {"us", 1e-6},
                    {"ns", 1e-9}, {"min", 60.0}, {"minute", 60.0}, {"h", 3600.0}, {"hour", 3600.0}};
const Table angles_deg{{"deg", 1.0},        {"degree", 1.0},        {"°", 1.0},
                       {"rad", 180.0 / pi}, {"radian", 180.0 / pi}, {"mrad", 0.18 / pi}};
const Table energies_keV{{"kev", 1.0}, {"ev", 1e-3}, {"mev", 1e3}};

std::string tidy(const std::string& unit) {
  std::string out;
  for (const char c : unit)
    if (!std::isspace(static_cast<unsigned char>(c)))
      out += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

// "1/nm", "nm^-1", "nm-1", "/nm" -> "nm"; empty when the unit is not an inverse.
std::string inverse_of(const std::string& unit) {
  if (unit.rfind("1/", 0) == 0) return unit.substr(2);
  if (unit.rfind("/", 0) == 0) return unit.substr(1);
  for (const std::string tail : {"^-1", "^{-1}", "**-1", "-1", "⁻¹"})
    if (unit.size() > tail.size() && unit.compare(unit.size() - tail.size(), tail.size(), tail) == 0)
      return unit.substr(0, unit.size() - tail.size());
  return "";
}

// Plurals are accepted where the singular is known ("Angstroms", "degrees").
const double* find(const Table& table, const std::string& unit) {
  auto it = table.find(unit);
  if (it == table.end() && unit.size() > 2 && unit.back() == 's') it = table.find(unit.substr(0, unit.size() - 1));
  return it == table.end() ? nullptr : &it->second;
}

struct Kind {
  const Table* table;
  double in_base;  // one of the wanted unit, in the table's unit
  bool inverse;
  const char* name;
};

Kind kind_of(Quantity quantity) {
  switch (quantity) {
    case Quantity::length_mm:
      return {&lengths_nm, 1e6, false, "length"};
    case Quantity::length_nm:
      return {&lengths_nm, 1.0, false, "length"};
    case Quantity::inverse_length_per_nm:
      return {&lengths_nm, 1.0, true, "inverse length"};
    case Quantity::time_s:
      return {&times_s, 1.0, false, "time"};
    case Quantity::angle_deg:
      return {&angles_deg, 1.0, false, "angle"};
    case Quantity::energy_keV:
      return {&energies_keV, 1.0, false, "energy"};
    case Quantity::intensity_per_cm:
      return {&lengths_nm, 1e7, true, "inverse length"};
  }
  return {&lengths_nm, 1.0, false, "length"};
}

}  // namespace

double unit_factor(const std::string& unit, Quantity quantity) {
  const Kind kind = kind_of(quantity);
  const std::string plain = tidy(unit);
  const std::string key = kind.inverse ? inverse_of(plain) : plain;
  if (const double* size = key.empty() ? nullptr : find(*kind.table, key))
    return kind.inverse ? kind.in_base / *size : *size / kind.in_base;
  std::vector<std::string> known;
  for (const auto& [name, value] : *kind.table) known.push_back((kind.inverse ? "1/" : "") + name);
  throw InputError(fmt::format("'{}' is not a unit of {}.", unit, kind.name),
                   fmt::format("Use one of: {}.", fmt::join(known, ", ")));
}

}  // namespace sievelight
