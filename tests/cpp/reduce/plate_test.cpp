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
  EXPECT_NEAR(plate_self_absorption(e, path_excess(cosine(5), 0)), 0.998092511, 1e-9);
  EXPECT_NEAR(plate_self_absorption(e, path_excess(cosine(10), 0)), 0.992326205, 1e-9);
  EXPECT_NEAR(plate_self_absorption(e, path_excess(cosine(20), 0)), 0.968586704, 1e-9);
  EXPECT_NEAR(plate_self_absorption(0.5, path_excess(cosine(5), 0)), 0.998677313, 1e-9);
  EXPECT_NEAR(plate_self_absorption(0.5, path_excess(cosine(20), 0)), 0.978083857, 1e-9);
  EXPECT_NEAR(plate_self_absorption(0.3, path_excess(cosine(10), 0)), 0.990770618, 1e-9);
  EXPECT_EQ(plate_self_absorption(1.0, path_excess(cosine(20), 0)), 1.0);
  EXPECT_EQ(plate_self_absorption(0.3, path_excess(1.0, 0)), 1.0);
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
  EXPECT_NEAR(plate_self_absorption(0.4, path_excess(cosine(17), 0)), value, 1e-12);
}

// Source: the same depth integral in a turned plate, both ways counted along the rays, by GSL's quadrature.
TEST(Plate, TurnedAboutTheVerticalAgreesWithTheDepthIntegral) {
  struct Case {
    double mu, in, out;
  };
  const double turn = radians(35), two = radians(18), azimuth = radians(50);
  const double out = std::sin(turn) * std::sin(two) * std::cos(azimuth) + std::cos(turn) * std::cos(two);
  Case c{1.3, 1 / std::cos(turn), 1 / out};
  gsl_function f{[](double x, void* p) {
                   const auto* v = static_cast<const Case*>(p);
                   return std::exp(-v->mu * x * v->in - v->mu * (1 - x) * v->out);
                 },
                 &c};
  double value = 0, error = 0;
  std::size_t calls = 0;
  gsl_integration_qng(&f, 0, 1, 0, 1e-12, &value, &error, &calls);
  const double t = std::exp(-1.3 / std::cos(turn));
  EXPECT_NEAR(plate_self_absorption(t, path_excess(std::cos(two), azimuth, turn)), value / t, 1e-11);
  EXPECT_DOUBLE_EQ(path_excess(std::cos(two), 1.0, 0.0), path_excess(std::cos(two), -2.0, 1e-300));
  EXPECT_HOLDS(message<InputError>([] { path_excess(std::cos(radians(30)), 0.0, radians(-70)); }), "turned by -70");
}

TEST(Plate, SeesWallsThroughTheSample) {
  const double c = 1 / cosine(30) - 1, upstream = std::pow(0.5, c);
  EXPECT_DOUBLE_EQ(oblique_wall(0.5, c, WallPosition::upstream), upstream);
  EXPECT_EQ(oblique_wall(0.5, c, WallPosition::downstream), 1.0);
  EXPECT_DOUBLE_EQ(oblique_wall(0.5, c, WallPosition::both), 0.5 * (1 + upstream));
  EXPECT_DOUBLE_EQ(exit_wall(0.8, c, WallPosition::downstream), std::pow(0.8, c));
  EXPECT_DOUBLE_EQ(exit_wall(0.8, c, WallPosition::both), std::pow(0.8, c / 2));
  EXPECT_EQ(exit_wall(0.8, c, WallPosition::upstream), 1.0);
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
