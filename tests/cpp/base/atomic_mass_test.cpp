// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/atomic_mass.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

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

TEST(AtomicMass, RefusesWhatIsNoElement) {
  EXPECT_THROW(atomic_mass_g_per_mol(0), InputError);
  EXPECT_THROW(atomic_mass_g_per_mol(99), InputError);
}

}  // namespace
}  // namespace sievelight
