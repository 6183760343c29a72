// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/plate.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/base/units.hpp"

#include <gsl/gsl_integration.h>

namespace sievelight {
namespace {

using namespace synthetic;

double cosine(double degrees_) { return std::cos(radians(degrees_)); }

// Source: reference values 7.1, integral over the depth of exp(-mu x - mu (t - x) s)/t divided by T; the digits given.
TEST(Plate, ReproducesTheClosedFormOfSelfAbsorption) {
  const double e = std::exp(-1.0);
  EXPECT_NEAR(plate_self_absorption(e, cosine(5)), 0.998092511, 1e-9);
  EXPECT_NEAR(plate_self_absorption(e, cosine(10)), 0.992326205, 1e-9);
  EXPECT_NEAR(plate_self_absorption(e, cosine(20)), 0.968586704, 1e-9);
  EXPECT_NEAR(plate_self_absorption(0.5, cosine(5)), 0.998677313, 1e-9);
  EXPECT_NEAR(plate_self_absorption(0.5, cosine(20)), 0.978083857, 1e-9);
  EXPECT_NEAR(plate_self_absorption(0.3, cosine(10)), 0.990770618, 1e-9);
  EXPECT_EQ(plate_self_absorption(1.0, cosine(20)), 1.0);
  EXPECT_EQ(plate_self_absorption(0.3, 1.0), 1.0);
}

// The depth integral itself, by GSL's quadrature (relative 1e-12).
TEST(Plate, AgreesWithTheDepthIntegral) {
  struct Case {
    double t, s;
  } c{0.4, 1 / cosine(17)};
  gsl_function f{[](double x, void* p) {
                   const auto* v = static_cast<const Case*>(p);
                   const double mu = -std::log(v->t);
                   return std::exp(-mu * x - mu * (1 - x) * v->s) / v->t;
                 },
                 &c};
  double value = 0, error = 0;
  std::size_t calls = 0;
  gsl_integration_qng(&f, 0, 1, 0, 1e-12, &value, &error, &calls);
  EXPECT_NEAR(plate_self_absorption(0.4, cosine(17)), value, 1e-12);
}

TEST(Plate, SlopesAreThoseOfTheFunctions) {
  for (const double t : {0.05, 0.4, 0.9, 1.0}) {
    const double c = cosine(25), h = 1e-5;
    const auto log_c = [&](double l) { return std::log(plate_self_absorption(std::exp(l), c)); };
    const double l = std::log(t);
    // Central differences: error h^2 and rounding 1e-16/h.
    EXPECT_NEAR(plate_self_absorption_slope(t, c), (log_c(l + h) - log_c(l - h)) / (2 * h), 1e-8);
    for (const auto walls : {WallPosition::upstream, WallPosition::both, WallPosition::downstream}) {
      const auto o = [&](double x) { return oblique_wall(std::exp(x), c, walls); };
      EXPECT_NEAR(oblique_wall_slope(t, c, walls), (o(l + h) - o(l - h)) / (2 * h), 1e-8);
    }
  }
}

TEST(Plate, SeesWallsThroughTheSample) {
  const double c = cosine(30), upstream = std::pow(0.5, 1 / c - 1);
  EXPECT_DOUBLE_EQ(oblique_wall(0.5, c, WallPosition::upstream), upstream);
  EXPECT_EQ(oblique_wall(0.5, c, WallPosition::downstream), 1.0);
  EXPECT_DOUBLE_EQ(oblique_wall(0.5, c, WallPosition::both), 0.5 * (1 + upstream));
}

// Source: reference values 7.1 for silicon at 8.048 keV, mu = 148.12 1/cm; they were computed with more digits of mu.
TEST(Plate, ReproducesSensorEfficiencies) {
  EXPECT_NEAR(sensor_efficiency(148.12, 0.32, 1.0), 0.991259, 2e-6);
  EXPECT_NEAR(sensor_efficiency(148.12, 0.45, 1.0), 0.998726, 2e-6);
  const auto ratio = [](double mu, double t, double angle) {
    return sensor_efficiency(mu, t, cosine(angle)) / sensor_efficiency(mu, t, 1.0);
  };
  EXPECT_NEAR(ratio(148.12, 0.32, 10), 1.0006218, 1e-6);
  EXPECT_NEAR(ratio(148.12, 0.32, 20), 1.0023128, 1e-6);
  EXPECT_NEAR(ratio(148.12, 0.45, 20), 1.0004441, 1e-6);
  EXPECT_NEAR(sensor_efficiency(6.616 * 2.33, 0.45, 1.0), 0.50025, 1e-4);  // 17.479 keV
  EXPECT_NEAR(ratio(6.616 * 2.33, 0.45, 20), 1.043497, 1e-5);
  EXPECT_NEAR(ratio(1e-6, 0.1, 20), 1 / cosine(20), 1e-8);  // thin limit
  EXPECT_NEAR(ratio(1e6, 0.1, 20), 1.0, 1e-15);             // thick limit
}

TEST(Plate, FlightPathIsThePowerOfTheStraightPath) {
  const double straight = oblique_transmission(0.01174, 300.0, 1.0);
  EXPECT_NEAR(straight, std::exp(-0.3522), 1e-12);
  EXPECT_NEAR(oblique_transmission(0.01174, 300.0, cosine(20)), std::pow(straight, 1 / cosine(20)), 1e-15);
}

TEST(Plate, KnowsTheAngleOfQ) {
  const double two_theta = radians(12.0), lambda = 0.154;
  EXPECT_NEAR(cos_two_theta(4 * pi / lambda * std::sin(two_theta / 2), lambda), std::cos(two_theta), 1e-15);
  EXPECT_HOLDS(message<InputError>([] { cos_two_theta(1.0, 0.0); }), "wavelength of 0 nm");
  EXPECT_HOLDS(message<InputError>([] { plate_self_absorption(0.0, 0.9); }), "transmission of the plate is 0");
}

}  // namespace
}  // namespace sievelight
