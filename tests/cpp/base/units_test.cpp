// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/units.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

TEST(Units, ReadTheSpellingsOfNexusAndCansasFiles) {
  EXPECT_DOUBLE_EQ(unit_factor("1/A", Quantity::inverse_length_per_nm), 10.0);
  EXPECT_DOUBLE_EQ(unit_factor("nm^-1", Quantity::inverse_length_per_nm), 1.0);
  EXPECT_DOUBLE_EQ(unit_factor("Angstroms", Quantity::length_nm), 0.1);
  EXPECT_DOUBLE_EQ(unit_factor("m", Quantity::length_mm), 1000.0);
  EXPECT_DOUBLE_EQ(unit_factor("1/cm", Quantity::intensity_per_cm), 1.0);
  EXPECT_DOUBLE_EQ(unit_factor("1/m", Quantity::intensity_per_cm), 0.01);
  EXPECT_DOUBLE_EQ(unit_factor("eV", Quantity::energy_keV), 1e-3);
  EXPECT_DOUBLE_EQ(unit_factor("degrees", Quantity::angle_deg), 1.0);
}

TEST(Units, RefuseAUnitOfAnotherKindByName) {
  try {
    unit_factor("parsec", Quantity::length_mm);
    FAIL() << "accepted";
  } catch (const InputError& error) {
    EXPECT_NE(std::string(error.what()).find("'parsec' is not a unit of length"), std::string::npos);
    EXPECT_NE(error.mend().find("mm"), std::string::npos);
  }
  EXPECT_THROW(unit_factor("nm", Quantity::inverse_length_per_nm), InputError);
}

// Source: CODATA 2022 and SI 2019 exact constants; Cu K alpha 1 8047.8227 eV is 1.5405931 Angstrom with them
// (Deslattes et al. 2003, Rev. Mod. Phys. 75, 35). The tabulated digits bound the tolerance.
TEST(Units, TurnEnergyIntoWavelength) { EXPECT_NEAR(wavelength_nm_from_energy_keV(8.0478227), 0.15405931, 5e-9); }

}  // namespace
}  // namespace sievelight
