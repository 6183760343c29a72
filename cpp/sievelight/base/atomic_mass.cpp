// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/atomic_mass.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <iterator>

namespace sievelight {
namespace {

// Elements 1 to 98; of radioactive ones the mass number of a common isotope.
constexpr double masses[] = {
    1.008,    4.002602, 6.94,     9.012183, 10.81,    12.011,   14.007,   15.999,   18.9984,  20.1797,  22.98977,
    24.305,   26.98154, 28.085,   30.97376, 32.06,    35.45,    39.95,    39.0983,  40.078,   44.95591, 47.867,
    50.9415,  51.9961,  54.93804, 55.845,   58.93319, 58.6934,  63.546,   65.38,    69.723,   72.63,    74.92159,
    78.971,   79.904,   83.798,   85.4678,  87.62,    88.90584, 91.224,   92.90637, 95.95,    98,       101.07,
    102.9055, 106.42,   107.8682, 112.414,  114.818,  118.71,   121.76,   127.6,    126.9045, 131.293,  132.9055,
    137.327,  138.9055, 140.116,  140.9077, 144.242,  145,      150.36,   151.964,  157.25,   158.9254, 162.5,
    164.9303, 167.259,  168.9342, 173.045,  174.9668, 178.486,  180.9479, 183.84,   186.207,  190.23,   192.217,
    195.084,  196.9666, 200.592,  204.38,   207.2,    208.9804, 209,      210,      222,      223,      226,
    227,      232.0377, 231.0359, 238.0289, 237,      244,      243,      247,      247,      251,
};

}  // namespace

double atomic_mass_g_per_mol(int atomic_number) {
  if (atomic_number < 1 || atomic_number > static_cast<int>(std::size(masses)))
    throw InputError(fmt::format("there is no element {} in the table.", atomic_number), "Give 1 (H) to 98 (Cf).");
  return masses[atomic_number - 1];
}

}  // namespace sievelight
