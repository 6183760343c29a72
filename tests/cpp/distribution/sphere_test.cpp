// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/sphere.hpp"

#include "sievelight/base/units.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

// Source: P(x) = [3 (sin x - x cos x)/x^3]^2 (Rayleigh 1911), evaluated in 30-digit arithmetic. At x = 0.001 the plain
// formula is wrong by 1e-10; the series must hold 1e-15.
TEST(Sphere, HasTheFormFactorOfRayleigh) {
  EXPECT_NEAR(sphere_form_factor(0.001), 0.9999998000000171, 1e-15);
  EXPECT_NEAR(sphere_form_factor(0.01), 0.9999800001714277, 1e-15);
  EXPECT_NEAR(sphere_form_factor(0.1), 0.9980017134394282, 1e-14);
  const double x[] = {0.5, 1, 2, 3, 4, 4.5, 5, 7.5, 10};
  const double p[] = {0.9510583078076271,   0.8163231585688647,   0.4265352505294367,
                      0.1194929338419536,   0.007583459677606651, 9.083122392095222e-7,
                      0.003255118390384946, 1.396413683280497e-4, 5.541354859723796e-4};
  for (int k = 0; k < 9; ++k) EXPECT_NEAR(sphere_form_factor(x[k]), p[k], 1e-12) << x[k];
  EXPECT_NEAR(sphere_form_factor(20), 7.388942834641892e-6, 1e-15);
  EXPECT_NEAR(sphere_form_factor(50), 1.355492570675875e-6, 1e-15);
  EXPECT_NEAR(sphere_form_factor(100), 6.771172059827033e-8, 1e-15);
}

// Both branches at their border: the series drops 2e-17, the formula loses a factor 1/x^2 ~ 10 of rounding.
TEST(Sphere, IsContinuousWhereTheSeriesTakesOver) {
  EXPECT_NEAR(sphere_amplitude(0.3 - 1e-15), sphere_amplitude(0.3 + 1e-15), 1e-14);
}

// Source: the roots of tan x = x, from 30-digit arithmetic.
TEST(Sphere, VanishesWhereTanXIsX) {
  for (const double zero : {4.493409457909064, 7.725251836937707, 10.90412165942890, 14.06619391283147,
                            17.22075527193077, 20.37130295928756, 23.51945249868901})
    EXPECT_NEAR(sphere_amplitude(zero), 0.0, 1e-15) << zero;
}

// Source: side maxima of P from 30-digit arithmetic.
TEST(Sphere, HasItsSideMaxima) {
  const double x[] = {5.76345919689455, 9.09501133047636, 12.3229409705666, 15.5146030108867, 18.6890363553628};
  const double p[] = {7.42542300066e-3, 1.26767189424e-3, 3.82580393236e-4, 1.53402994992e-4, 7.31389700993e-5};
  for (int k = 0; k < 5; ++k) {
    EXPECT_NEAR(sphere_form_factor(x[k]), p[k], 1e-13);
    EXPECT_GT(sphere_form_factor(x[k]), sphere_form_factor(x[k] + 1e-3));
    EXPECT_GT(sphere_form_factor(x[k]), sphere_form_factor(x[k] - 1e-3));
  }
}

// Source: Guinier's law with Rg^2 = 3/5 R^2 (Guinier and Fournet 1955); the deviations of the sphere from it follow
// from the series ln P = -x^2/5 - x^4/350 - ...
TEST(Sphere, LeavesGuiniersLawAsTheSeriesSays) {
  const double q_rg[] = {0.1, 0.3, 0.5, 1.0, 1.3};
  const double off[] = {-7.940e-7, -6.457e-5, -5.021e-4, -8.319e-3, -2.447e-2};
  for (int k = 0; k < 5; ++k) {
    const double x = q_rg[k] / std::sqrt(0.6);
    EXPECT_NEAR(sphere_form_factor(x) / std::exp(-q_rg[k] * q_rg[k] / 3) - 1, off[k], 2e-4 * -off[k] + 1e-12);
  }
}

// Source: Porod 1951: x^4 P averages to 9/2; here over one period at x ~ 1000, where the next term is of order 1/x^2.
TEST(Sphere, ReachesPorodsLaw) {
  const int points = 10000;
  double sum = 0;
  for (int k = 0; k < points; ++k) {
    const double x = 1000 * pi + pi * (k + 0.5) / points;
    sum += x * x * x * x * sphere_form_factor(x) / points;
  }
  EXPECT_NEAR(sum, 4.5, 1e-4);
}

// Source: the invariant of a sphere, integral of x^2 P = 3 pi / 2. Midpoints to x = 2000, then the Porod tail 9/(2 x).
TEST(Sphere, HasTheInvariantOfItsVolume) {
  const double step = 0.01, end = 2000;
  double sum = 0;
  for (double x = step / 2; x < end; x += step) sum += step * x * x * sphere_form_factor(x);
  EXPECT_NEAR(sum + 4.5 / end, 1.5 * pi, 1e-5);
}

TEST(Sphere, HasItsVolume) { EXPECT_DOUBLE_EQ(sphere_volume_nm3(2.0), 4.0 / 3.0 * pi); }

}  // namespace
}  // namespace sievelight
