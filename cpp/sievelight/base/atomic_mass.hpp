// SPDX-License-Identifier: GPL-3.0-or-later
/// Standard atomic weights. Source: IUPAC (T. Prohaska et al., Pure Appl. Chem. 94 (2022) 573), conventional values
/// where a range is given. libxrl carries masses of four figures, 1e-3 off for gold.
#pragma once

namespace sievelight {

/// g/mol of an element by its atomic number. InputError beyond 1 to 98.
double atomic_mass_g_per_mol(int atomic_number);

}  // namespace sievelight
