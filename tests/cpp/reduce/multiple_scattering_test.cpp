// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/multiple_scattering.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/reduce/bins.hpp"

namespace sievelight {
namespace {

using namespace synthetic;

// Source: closed form for a random two-phase system, I = I0/(1 + q^2 a^2)^2: int I q dq =
// I0/(2 a^2) [1/(1 + q_low^2 a^2) - 1/(1 + q_high^2 a^2)]. The bins' curvature leaves 1e-6.
TEST(ScatteringProbability, IsTheIntegralOverSolidAngle) {
  const double a = 5.0, i0 = 2000.0, lambda = 0.154;
  Curve c = curve_on_bins(
      log_edges(1e-3, 20.0, 4000), [&](double q) { return i0 / std::pow(1 + q * q * a * a, 2); }, 0.0);
  c.unit = IntensityUnit::per_cm;
  const double expected =
      lambda * lambda / (2 * pi) * i0 / (2 * a * a) * 0.15 * (1 / (1 + 1e-6 * a * a) - 1 / (1 + 400 * a * a));
  EXPECT_NEAR(scattering_probability(c, 1.5, lambda).value, expected, 1e-5 * expected);
  c.causes["scale"] = {CauseKind::coherent, 0.03 * c.intensity};
  EXPECT_NEAR(scattering_probability(c, 1.5, lambda).u, 0.03 * expected, 1e-4 * expected);
  EXPECT_HOLDS(message<InputError>([&] { scattering_probability(c, 0.0, lambda); }), "a path (0 mm)");
}

}  // namespace
}  // namespace sievelight
