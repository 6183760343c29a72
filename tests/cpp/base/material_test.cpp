// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/material.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

constexpr double cu_alpha_nm = hc_keV_nm / 8.048;

// J. H. Hubbell, S. M. Seltzer, NISTIR 5632: mu/rho at 8 and 10 keV, cm2/g. Tables differ by 1 to 2 %.
TEST(Material, AttenuationAgreesWithTheTablesOfNist) {
  const std::vector<std::tuple<const char*, double, double>> rows{
      {"Si", 64.68, 33.89}, {"water", 10.37, 5.329}, {"C", 4.576, 2.373}, {"O", 11.63, 5.952}, {"air", 9.921, 5.120}};
  for (const auto& [name, at8, at10] : rows) {
    EXPECT_NEAR(mass_attenuation_cm2_per_g(material(name), hc_keV_nm / 8.0), at8, 0.02 * at8) << name;
    EXPECT_NEAR(mass_attenuation_cm2_per_g(material(name), hc_keV_nm / 10.0), at10, 0.02 * at10) << name;
  }
  EXPECT_NEAR(attenuation_per_cm(material("silica"), cu_alpha_nm), 78.756, 0.02 * 78.756);  // same tables, mixture rule
  EXPECT_NEAR(attenuation_per_cm(material("polyimide"), cu_alpha_nm), 8.594, 0.02 * 8.594);
}

TEST(Material, NamesAndFormulasOfOneSubstanceAgree) {
  EXPECT_NEAR(mass_attenuation_cm2_per_g(material("Polyimide"), cu_alpha_nm),
              mass_attenuation_cm2_per_g(material("C22H10N2O5"), cu_alpha_nm), 1e-12);
  EXPECT_NEAR(mass_attenuation_cm2_per_g(material("water"), cu_alpha_nm),
              mass_attenuation_cm2_per_g(material("H2O"), cu_alpha_nm), 2e-3 * 10.2);  // the catalogue's rounded shares
  EXPECT_NEAR(material("silicon").density_g_per_cm3, 2.33, 0.01);
  double sum = 0;
  for (const double share : material("KAl3Si3O12H2").mass_share) sum += share;
  EXPECT_NEAR(sum, 1.0, 1e-12);
}

// K edges: Fe 7.112, Co 7.709, Ni 8.333 keV; Fe K-alpha1 6.404 keV (R. D. Deslattes et al., Rev. Mod. Phys. 75 (2003)
// 35).
TEST(Material, IronAndCobaltShineUnderCopperRadiationAndNickelDoesNot) {
  const auto iron = fluorescence(material("Fe2O3"), cu_alpha_nm);
  ASSERT_EQ(iron.size(), 1u);
  EXPECT_EQ(iron[0].element, "Fe");
  EXPECT_NEAR(iron[0].edge_keV, 7.112, 0.003);
  EXPECT_NEAR(iron[0].line_keV, 6.404, 0.003);
  EXPECT_GT(iron[0].share, 0.2);  // yield 0.34, K share 0.87 of the absorption
  EXPECT_LT(iron[0].share, 0.34);
  EXPECT_EQ(fluorescence(material("CoAl2O4"), cu_alpha_nm)[0].element, "Co");
  EXPECT_TRUE(fluorescence(material("NiO"), cu_alpha_nm).empty());
  EXPECT_EQ(fluorescence(material("SiO2"), cu_alpha_nm)[0].element, "Si");  // soft, but counted
  EXPECT_TRUE(fluorescence(material("H2O"), cu_alpha_nm).empty());
}

TEST(Material, RefusesWhatItDoesNotKnow) {
  EXPECT_NE(refusal<InputError>([] { material("unobtainium"); }).find("neither a known material nor a formula"),
            std::string::npos);
  EXPECT_NE(refusal<InputError>([] { attenuation_per_cm(material("SiO2"), cu_alpha_nm); }).find("density of 'SiO2'"),
            std::string::npos);
  EXPECT_NE(refusal<InputError>([] { mass_attenuation_cm2_per_g(material("Si"), 1.54); }).find("outside the tables"),
            std::string::npos);
}

}  // namespace
}  // namespace sievelight
