// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/capillary.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/base/units.hpp"

#include <gsl/gsl_sf_bessel.h>

#include <random>

namespace sievelight {
namespace {

using namespace synthetic;

// Modified Struve function L_n by its series (DLMF 11.2.2); fine for the small arguments here.
double struve(int n, double x) {
  double sum = 0;
  for (int k = 0; k < 40; ++k)
    sum += std::exp((2 * k + n + 1) * std::log(x / 2) - std::lgamma(k + 1.5) - std::lgamma(k + n + 1.5));
  return sum;
}

// Source: a bathed cylinder, 2theta = 0: int L exp(-mu L) dx = pi R^2 [L_1'(a) ...] with a = 2 mu R. From
// int_0^{pi/2} cos u exp(-a cos u) du = (pi/2)[L_{-1}(a) - I_1(a)], L_{-1} = L_1 + 2/pi (DLMF 11.5.4, 11.4.23), so
// T = (1/2R) int exp(-mu L) dx = int_0^{pi/2} cos u exp(-a cos u) du.
TEST(Capillary, TransmissionOfABathedCylinderIsItsClosedForm) {
  for (const double a : {0.2, 1.0, 2.5}) {
    const double t = pi / 2 * (struve(1, a) + 2 / pi - gsl_sf_bessel_I1(a));
    const Capillary c({.inner_diameter_mm = 2.0, .beam_width_mm = 2.0}, t);
    EXPECT_NEAR(c.mu_per_mm(), a / 2, 1e-9);
  }
}

TEST(Capillary, UnderAPencilOnItsAxisIsAsThickAsItsDiameter) {
  const Capillary c({.inner_diameter_mm = 1.5}, 0.4);
  EXPECT_NEAR(c.mu_per_mm(), -std::log(0.4) / 1.5, 1e-12);
  EXPECT_NEAR(c.path_mm(), 1.5, 1e-12);
  EXPECT_EQ(c.self_absorption(1.0, 0.3), 1.0);
  // Along the axis (vertical, azimuth 90 degrees) the way out lengthens as in a plate: z_out / cos 2theta' with the
  // plane's share of the direction, here exactly cos 2theta.
  const double cosine = std::cos(radians(15)), w = -std::log(0.4) * (1 / cosine - 1);
  EXPECT_NEAR(c.self_absorption(cosine, pi / 2), -std::expm1(-w) / w, 1e-10);
}

// Source: photons drawn one by one. 4e5 points: sd of the mean below 1e-3 of it; limits 4 sd.
TEST(Capillary, AgreesWithDrawnPhotons) {
  const CapillaryShape shape{.inner_diameter_mm = 1.0, .beam_width_mm = 0.6, .beam_offset_mm = 0.15};
  const Capillary c(shape, 0.35);
  const double mu = c.mu_per_mm(), r = 0.5, two = radians(20);
  std::mt19937_64 random(9);
  std::uniform_real_distribution<double> unit(0, 1);
  for (const double azimuth : {0.0, 2.0}) {
    double oblique = 0, straight = 0, square = 0;
    const int n = 400000;
    for (int i = 0; i < n; ++i) {
      const double x = 0.15 + 0.6 * (unit(random) - 0.5), half = std::abs(x) < r ? std::sqrt(r * r - x * x) : 0.0;
      const double z = half * (2 * unit(random) - 1);
      // March out of the cylinder along the ray by solving |p + s v| = r in the plane.
      const double vx = std::sin(two) * std::cos(azimuth), vz = std::cos(two), a = vx * vx + vz * vz;
      const double b = x * vx + z * vz, s = (-b + std::sqrt(b * b - a * (x * x + z * z - r * r))) / a;
      const double value = 2 * half * std::exp(-mu * (z + half + s)), plain = 2 * half * std::exp(-2 * mu * half);
      oblique += value;
      straight += plain;
      square += (value - plain) * (value - plain);
    }
    const double sd = std::sqrt(square) / straight;
    EXPECT_NEAR(c.self_absorption(std::cos(two), azimuth), oblique / straight, 4 * sd);
    EXPECT_GT(std::abs(oblique / straight - 1), 20 * sd);  // there is an effect to see
  }
}

TEST(Capillary, TurnsWithItsAxisAndRefusesTheImpossible) {
  CapillaryShape shape{.inner_diameter_mm = 1.0, .beam_width_mm = 0.4};
  const Capillary vertical(shape, 0.4);
  shape.axis = CapillaryAxis::horizontal;
  const Capillary horizontal(shape, 0.4);
  EXPECT_NEAR(vertical.self_absorption(0.95, 0.3), horizontal.self_absorption(0.95, pi / 2 - 0.3), 1e-12);
  EXPECT_LT(vertical.oblique_wall(0.95, pi / 2), 1.0);  // along the axis the way lengthens
  EXPECT_GT(vertical.oblique_wall(0.95, 0.0), 1.0);     // across it the ray cuts a shorter chord
  EXPECT_EQ(vertical.oblique_wall(1.0, 0.3), 1.0);
  EXPECT_HOLDS(message<InputError>([] { Capillary({.inner_diameter_mm = 0.0}, 0.5); }), "inner diameter 0 mm");
  EXPECT_HOLDS(message<InputError>(
                   [] { Capillary({.inner_diameter_mm = 1.0, .beam_width_mm = 0.2, .beam_offset_mm = 3.0}, 0.5); }),
               "misses a capillary");
  EXPECT_HOLDS(message<InputError>([] { Capillary({.inner_diameter_mm = 1.0, .beam_width_mm = 2.0}, 0.3); }),
               "0.5 of the beam passes beside");
  EXPECT_HOLDS(message<InputError>([] { Capillary({.inner_diameter_mm = 1.0}, 1.2); }), "contents is 1.2");
}

}  // namespace
}  // namespace sievelight
