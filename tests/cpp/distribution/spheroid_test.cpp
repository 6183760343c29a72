// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/spheroid.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/distribution/sphere.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

// Source: derived by adaptive quadrature with 14 digits: equatorial radius 3 nm and polar 6, then the reverse.
TEST(Spheroid, HasTheDerivedFormFactor) {
  const double q[] = {0.1, 0.5, 1, 2};
  const double prolate[] = {0.96465840479735, 0.41288940935103, 0.036605991434337, 0.0021788559591875};
  const double oblate[] = {0.94734019076554, 0.2457959983356, 0.010975636508795, 6.350898855063e-4};
  for (int k = 0; k < 4; ++k) {
    EXPECT_NEAR(spheroid_form_factor(q[k], 3.0, 2.0) / prolate[k], 1.0, 1e-12) << q[k];
    EXPECT_NEAR(spheroid_form_factor(q[k], 6.0, 0.5) / oblate[k], 1.0, 1e-12) << q[k];
    // By the diameter of the sphere of equal volume: 54^(1/3) = a (c/a)^(1/3) is its radius.
    EXPECT_NEAR(spheroid(2.0).form_factor(q[k], 2 * std::cbrt(54.0)) / prolate[k], 1.0, 1e-12);
    EXPECT_NEAR(spheroid(0.5).form_factor(q[k], 2 * std::cbrt(108.0)) / oblate[k], 1.0, 1e-12);
  }
}

// Source: Rg^2 = (2 a^2 + c^2)/5 (Guinier and Fournet 1955): P = 1 - q^2 Rg^2/3 + O(q^4).
TEST(Spheroid, HasItsRadiusOfGyration) {
  const double q = 1e-3;
  for (const double nu : {0.05, 0.3, 0.999999, 1.0, 1.000001, 4.0, 20.0})
    EXPECT_NEAR((1 - spheroid_form_factor(q, 3.0, nu)) * 3 / (q * q) / (9 * (2 + nu * nu) / 5), 1.0, 2e-3) << nu;
}

TEST(Spheroid, OfRatioOneIsASphere) {
  for (const double x : {0.3, 4.0, 90.0}) {
    EXPECT_DOUBLE_EQ(spheroid_form_factor(x, 1.0, 1.0), sphere_form_factor(x));
    EXPECT_NEAR(spheroid_form_factor(x, 1.0, 1 + 1e-8), sphere_form_factor(x), 1e-7);
  }
}

// Sources: surfaces 2 pi a^2 (1 + c/(a e) asin e) and 2 pi a^2 (1 + (1 - e^2)/e atanh e) (any table of solids); by
// Porod's law q^4 P averages to 2 pi S/V^2, here over a bell-shaped band of q at q R = 200, where other terms are of
// order 1/(q R).
TEST(Spheroid, ReachesPorodsLawOfItsSurface) {
  for (const double nu : {0.4, 1.0, 2.5}) {
    const Shape shape = spheroid(nu);
    const double volume = shape.volume_nm3(2.0), surface = volume * shape.surface_per_size / 2.0;
    double mean = 0, all = 0;
    for (int k = 0; k < 400; ++k) {
      const double q = 180 + 0.1 * k, bell = std::pow(std::sin(pi * k / 400), 2);
      mean += bell * std::pow(q, 4) * shape.form_factor(q, 2.0);
      all += bell;
    }
    EXPECT_NEAR(mean / all * volume * volume / (2 * pi * surface), 1.0, 5e-3) << nu;
  }
  EXPECT_NEAR(spheroid_surface_ratio(1 + 1e-3), spheroid_surface_ratio(1.0), 1e-6);
}

TEST(Spheroid, RefusesAnImpossibleRatio) {
  EXPECT_THROW(spheroid(0.0), InputError);
  EXPECT_THROW(spheroid(1e4), InputError);
  EXPECT_EQ(spheroid(1.5).size, "diameter of the sphere of equal volume");
}

}  // namespace
}  // namespace sievelight
