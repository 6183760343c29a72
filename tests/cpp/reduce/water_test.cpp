// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/water.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/reduce/absolute_scale.hpp"
#include "sievelight/reduce/bins.hpp"

namespace sievelight {
namespace {

using namespace synthetic;

// Source: G. S. Kell, J. Chem. Eng. Data 20 (1975) 97, evaluated in the project's reference values, section 3: t, rho,
// kappa_T 1e-10, dSigma/dOmega(0); the digits given.
TEST(Water, ReproducesDensityCompressibilityAndIntensity) {
  const double rows[][4] = {
      {5, 0.999964, 4.91692, 0.016754},  {10, 0.999700, 4.78086, 0.016574}, {15, 0.999100, 4.67331, 0.016468},
      {20, 0.998204, 4.58918, 0.016422}, {25, 0.997045, 4.52472, 0.016429}, {30, 0.995647, 4.47707, 0.016483},
      {37, 0.993329, 4.43452, 0.016625}, {40, 0.992216, 4.42391, 0.016709}, {50, 0.988036, 4.41732, 0.017072}};
  for (const auto& [t, rho, kappa, intensity] : rows) {
    EXPECT_NEAR(water_density_g_per_cm3(t), rho, 6e-7);
    EXPECT_NEAR(water_compressibility_per_Pa(t), kappa * 1e-10, 6e-16);
    EXPECT_NEAR(water_intensity_per_cm(t), intensity, 6e-7);
  }
  EXPECT_LT(water_intensity_per_cm(21.7), water_intensity_per_cm(21.2));
  EXPECT_LT(water_intensity_per_cm(21.7), water_intensity_per_cm(22.2));
}

// The published 0.01632 1/cm at 20 C (Orthaber et al. 2000) is 0.63 % lower: two of the standard's uncertainties.
TEST(Water, StandsWithinTwoUncertaintiesOfThePublishedValue) {
  const IntensityStandard w = water_standard(20.0);
  EXPECT_NEAR(w.intensity_per_cm[0], 0.01632, 2 * w.relative_u * 0.01632);
  EXPECT_HOLDS(message<InputError>([] { water_standard(-3.0); }), "water at -3 C");
}

TEST(Water, GivesTheAbsoluteScale) {
  const double k = 3e-6;
  const Curve c = curve_on_bins(
      log_edges(0.1, 4.0, 60), [&](double) { return water_intensity_per_cm(23.0) / k; }, 0.02);
  const AbsoluteScale s = absolute_scale(c, water_standard(23.0));
  EXPECT_NEAR(s.factor.value, k, 1e-12 * k);
  EXPECT_GE(s.relative_u, 0.0032);
  EXPECT_TRUE(s.warnings.empty());
}

}  // namespace
}  // namespace sievelight
