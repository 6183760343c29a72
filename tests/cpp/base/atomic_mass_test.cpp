// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/atomic_mass.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>
#include <xraylib.h>

#include <set>

namespace sievelight {
namespace {

// Source: IUPAC 2021 abridged values (from memory).
TEST(AtomicMass, IsTheStandardWeight) {
  EXPECT_NEAR(atomic_mass_g_per_mol(1), 1.008, 5e-4);
  EXPECT_NEAR(atomic_mass_g_per_mol(6), 12.011, 5e-4);
  EXPECT_NEAR(atomic_mass_g_per_mol(8), 15.999, 6e-4);
  EXPECT_NEAR(atomic_mass_g_per_mol(14), 28.085, 6e-4);
  EXPECT_NEAR(atomic_mass_g_per_mol(26), 55.845, 1e-3);
  EXPECT_NEAR(atomic_mass_g_per_mol(79), 196.967, 1e-3);
  EXPECT_NEAR(atomic_mass_g_per_mol(92), 238.029, 1e-3);
}

// Elements with a standard weight against the table of libxrl, which has four figures and is 1e-3 off at worst; left
// out are hydrogen (three figures there) and thulium (erbium's mass stands there).
TEST(AtomicMass, IsThatOfAnotherTable) {
  const std::set<int> left_out{1, 69, 43, 61, 84, 85, 86, 87, 88, 89, 93, 94, 95, 96, 97, 98};
  for (int z = 1; z <= 98; ++z) {
    if (left_out.count(z) > 0) continue;
    EXPECT_NEAR(atomic_mass_g_per_mol(z) / AtomicWeight(z, nullptr), 1.0, 1.5e-3) << z;
  }
}

TEST(AtomicMass, RefusesWhatIsNoElement) {
  EXPECT_THROW(atomic_mass_g_per_mol(0), InputError);
  EXPECT_THROW(atomic_mass_g_per_mol(99), InputError);
}

}  // namespace
}  // namespace sievelight
