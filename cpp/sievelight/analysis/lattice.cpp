// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/lattice.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

namespace sievelight {
namespace {

bool even(int x) { return x % 2 == 0; }

// Reflection conditions of the group for indices h >= k >= l >= 0. All these groups are unchanged by permuting the
// axes (cyclically at least, and the conditions are symmetric), so each condition is asked of every order.
bool allowed(Symmetry symmetry, int h, int k, int l) {
  const int index[3] = {h, k, l};
  const auto every_order = [&](auto condition) {
    int at[3] = {0, 1, 2};
    do {
      if (!condition(index[at[0]], index[at[1]], index[at[2]])) return false;
    } while (std::next_permutation(at, at + 3));
    return true;
  };
  switch (symmetry) {
    case Symmetry::im3m:
      return even(h + k + l);
    case Symmetry::fm3m:
      return even(h + k) && even(k + l);
    case Symmetry::ia3d:  // hkl: h+k+l = 2n; 0kl: k, l = 2n; hhl: 2h+l = 4n; h00: h = 4n
      return even(h + k + l) && every_order([](int a, int b, int c) {
               return (a != 0 || (even(b) && even(c))) && (a != b || (2 * a + c) % 4 == 0) &&
                      (b != 0 || c != 0 || a % 4 == 0);
             });
    case Symmetry::pn3m:  // 0kl: k+l = 2n; h00: h = 2n
      return every_order([](int a, int b, int c) { return (a != 0 || even(b + c)) && (b != 0 || c != 0 || even(a)); });
    case Symmetry::pm3n:  // hhl: l = 2n; h00: h = 2n
      return every_order([](int a, int b, int c) { return (a != b || even(c)) && (b != 0 || c != 0 || even(a)); });
    default:
      return true;
  }
}

bool is_strong(Symmetry symmetry, int m) {
  switch (symmetry) {
    case Symmetry::im3m:
      return m == 2;
    case Symmetry::fm3m:
      return m == 3;
    case Symmetry::ia3d:
      return m == 6 || m == 8;
    case Symmetry::pn3m:
      return m == 2 || m == 3;
    case Symmetry::pm3n:
      return m == 4 || m == 5 || m == 6;
    default:
      return m == 1;
  }
}

}  // namespace

const std::vector<Symmetry>& known_symmetries() {
  static const std::vector<Symmetry> all{Symmetry::lamellar, Symmetry::p6mm, Symmetry::pm3m, Symmetry::im3m,
                                         Symmetry::fm3m,     Symmetry::ia3d, Symmetry::pn3m, Symmetry::pm3n};
  return all;
}

const char* name(Symmetry symmetry) {
  static const char* const names[] = {"lamellar", "p6mm", "Pm-3m", "Im-3m", "Fm-3m", "Ia-3d", "Pn-3m", "Pm-3n"};
  return names[static_cast<int>(symmetry)];
}

Symmetry symmetry_from(const std::string& text) {
  std::string all;
  for (const Symmetry symmetry : known_symmetries()) {
    if (text == name(symmetry)) return symmetry;
    all += fmt::format("{}'{}'", all.empty() ? "" : ", ", name(symmetry));
  }
  throw InputError(fmt::format("'{}' is no symmetry known here.", text), fmt::format("Use one of {}.", all));
}

std::vector<Reflection> reflections(Symmetry symmetry, int largest_m) {
  if (largest_m < 1)
    throw InputError(fmt::format("largest_m is {}.", largest_m), "Ask for reflections up to 1 at least.");
  std::map<int, std::string> found;
  const int most = static_cast<int>(std::sqrt(static_cast<double>(largest_m))) + 1;
  const auto put = [&](int m, const std::string& indices) {
    if (m >= 1 && m <= largest_m) found.try_emplace(m, indices);
  };
  for (int h = 1; h <= most; ++h) {
    if (symmetry == Symmetry::lamellar) {
      put(h * h, fmt::format("{}", h));
      continue;
    }
    for (int k = 0; k <= h; ++k) {
      if (symmetry == Symmetry::p6mm) {
        put(h * h + h * k + k * k, fmt::format("{}{}", h, k));
        continue;
      }
      for (int l = 0; l <= k; ++l)
        if (allowed(symmetry, h, k, l)) put(h * h + k * k + l * l, fmt::format("{}{}{}", h, k, l));
    }
  }
  const double g = symmetry == Symmetry::p6mm ? 2.0 / std::sqrt(3.0) : 1.0;
  std::vector<Reflection> out;
  for (const auto& [m, indices] : found)
    out.push_back({m, indices, g * std::sqrt(static_cast<double>(m)), is_strong(symmetry, m)});
  return out;
}

}  // namespace sievelight
