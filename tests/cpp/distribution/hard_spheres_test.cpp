// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/hard_spheres.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

// Source: compressibility S(0) = (1 - phi)^4/(1 + 2 phi)^2 (Wertheim 1963).
TEST(HardSpheres, HaveTheirCompressibility) {
  for (const double phi : {0.0, 0.05, 0.10, 0.20, 0.30, 0.40, 0.45, 0.49})
    EXPECT_NEAR(hard_sphere_structure_factor(0.0, phi), std::pow(1 - phi, 4) / std::pow(1 + 2 * phi, 2), 1e-14) << phi;
}

// Source: Percus-Yevick's closed form, evaluated in 40-digit arithmetic and by a numerical transform of c(r).
TEST(HardSpheres, HaveThePercusYevickStructureFactor) {
  const double a[] = {0.5, 1, 2, 4, 6, 6.5, 7, 8, 10, 15, 20};
  const double s10[] = {0.46155890298,  0.4796552204906, 0.5560346450789, 0.877197853652,
                        1.08952795826,  1.074199221556,  1.045778545162,  0.9891063974999,
                        0.974688001368, 0.9892115307444, 1.002989599035};
  const double s30[] = {0.09560317669171, 0.1012916763608, 0.1282704125755, 0.3556975744281,
                        1.445015680805,   1.500996955401,  1.334022113776,  0.9729852591946,
                        0.855206356309,   0.9470532562034, 1.019067538262};
  const double s45[] = {0.02582154658073, 0.02730585853523, 0.03434246596713, 0.09621546063607,
                        1.010286374816,   2.109723464261,   2.381492440625,   1.017475440175,
                        0.6480956878127,  0.8820393913475,  1.058808639063};
  for (int k = 0; k < 11; ++k) {
    EXPECT_NEAR(hard_sphere_structure_factor(a[k], 0.10) / s10[k], 1.0, 1e-11) << a[k];
    EXPECT_NEAR(hard_sphere_structure_factor(a[k], 0.30) / s30[k], 1.0, 1e-11) << a[k];
    EXPECT_NEAR(hard_sphere_structure_factor(a[k], 0.45) / s45[k], 1.0, 1e-11) << a[k];
  }
  EXPECT_NEAR(hard_sphere_structure_factor(6.33812811, 0.3), 1.51550591, 1e-8);
  EXPECT_NEAR(hard_sphere_structure_factor(6.81484246, 0.45), 2.51397996, 1e-8);
  EXPECT_NEAR(hard_sphere_structure_factor(6.96688105, 0.49), 3.06645470, 1e-8);
}

// Where the series takes over the closed form has lost 2^6 of rounding.
TEST(HardSpheres, AreContinuousWhereTheSeriesTakesOver) {
  for (const double phi : {0.1, 0.3, 0.49})
    EXPECT_NEAR(hard_sphere_structure_factor(2 - 1e-14, phi) / hard_sphere_structure_factor(2 + 1e-14, phi), 1.0,
                1e-12);
}

TEST(HardSpheres, RefuseWhatCannotBePacked) {
  EXPECT_THROW(check(HardSpheres{0.6, 1.0}), InputError);
  EXPECT_THROW(check(HardSpheres{-0.1, 1.0}), InputError);
  EXPECT_THROW(check(HardSpheres{0.2, 0.0}), InputError);
  EXPECT_NO_THROW(check(HardSpheres{0.2, 1.1}));
}

}  // namespace
}  // namespace sievelight
