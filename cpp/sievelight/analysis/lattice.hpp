// SPDX-License-Identifier: GPL-3.0-or-later
/// Reflections of ordered pores: where a lattice may have peaks.
///   q = (2 pi / a) g sqrt(m), with m a whole number:
///   lamellar        g = 1,         m = l^2;              2-D hexagonal (p6mm)  g = 2 / sqrt(3), m = h^2 + h k + k^2;
///   cubic           g = 1,         m = h^2 + k^2 + l^2.
/// General conditions hold for the whole group, so no structure can break them; which of the allowed reflections are
/// strong is another matter: `strong` marks those that every published pattern of such pores shows (common practice).
/// Source: International Tables for Crystallography Vol. A, reflection conditions (from memory), against the table of
/// q ratios of the project's reference values in the test.
#pragma once

#include <string>
#include <vector>

namespace sievelight {

enum class Symmetry { lamellar, p6mm, pm3m, im3m, fm3m, ia3d, pn3m, pm3n };

/// In the order of the enumeration.
const std::vector<Symmetry>& known_symmetries();
/// "lamellar", "p6mm", "Pm-3m", "Im-3m", "Fm-3m", "Ia-3d", "Pn-3m", "Pm-3n".
const char* name(Symmetry symmetry);
/// By name; InputError lists the names.
Symmetry symmetry_from(const std::string& text);

struct Reflection {
  int m = 0;
  std::string indices;  // "100", "10" or "1"; the first in order where several fall together
  double ratio = 0.0;   // q a / (2 pi) = g sqrt(m)
  bool strong = false;
};

/// All allowed reflections with m <= largest_m (>= 1), rising, each m once.
std::vector<Reflection> reflections(Symmetry symmetry, int largest_m);

}  // namespace sievelight
