// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/absolute_scale.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/reduce/average.hpp"
#include "sievelight/reduce/background.hpp"
#include "sievelight/reduce/transmission.hpp"

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::VectorXd;

// The table itself, scaled by 1/k, as the standard would be measured: S = T d I / k plus a background.
Measured measured_table(double k, double t, double d_cm, const VectorXd& background) {
  Measured m{"standard", {}, Factor{t, {}}};
  m.curve.q_per_nm = srm3600().q_per_nm;
  m.curve.intensity = t * (d_cm * srm3600().intensity_per_cm / k + background);
  m.curve.private_u = VectorXd::Zero(59);
  return m;
}

TEST(AbsoluteScale, RecoversTheFactorToRounding) {
  const double k = 3.7e-5, tb = 0.97;
  const VectorXd parasitic = 2e3 * srm3600().q_per_nm.cwiseInverse();
  const Measured s = measured_table(k, 0.72, 0.1055, parasitic);
  Measured b{"empty", s.curve, Factor{tb, {}}};
  b.curve.intensity = tb * parasitic;
  const Absolute standard = absolute_curve(s, b, {.thickness_mm = 1.055});
  const AbsoluteScale a = absolute_scale(standard.curve);
  EXPECT_NEAR(a.factor.value / k, 1.0, 1e-10);
  EXPECT_EQ(a.points, 59);
  EXPECT_NEAR(a.factor.causes.at("absolute scale: table") / a.factor.value, 0.025795, 1e-6);
  EXPECT_NEAR(a.q_range_per_nm.low, 0.0827568, 1e-12);
  EXPECT_TRUE(a.warnings.empty());
}

TEST(AbsoluteScale, MovesAgainstThicknessAndTransmissionOfTheStandard) {
  Measured s = measured_table(1.0, 0.72, 0.1055, VectorXd::Zero(59));
  s.transmission->causes["transmission: standard"] = 0.0072;
  s.curve.private_u = 0.01 * s.curve.intensity;
  const AbsoluteScale a =
      absolute_scale(absolute_curve(s, {}, {.thickness_mm = 1.055, .thickness_u_mm = 0.02110}).curve);
  // k ~ T d / S: more transmission or thickness means a larger factor, by the same relative amount.
  EXPECT_NEAR(a.factor.causes.at("transmission: standard"), 0.01, 1e-9);
  EXPECT_NEAR(a.factor.causes.at("thickness: standard"), 0.02, 1e-9);
  EXPECT_NEAR(a.factor.causes.at("absolute scale: counts"), 0.01 / std::sqrt(59.0), 2e-4);
  EXPECT_NEAR(a.relative_u, std::sqrt(0.025795 * 0.025795 + 1e-4 + 4e-4 + 1e-4 / 59), 1e-5);
  EXPECT_GT(a.relative_u, 0.0258);
}

TEST(AbsoluteScale, NeverClaimsLessThanTheTable) {
  Measured s = measured_table(1.0, 1.0, 1.0, VectorXd::Zero(59));
  s.curve.private_u = 1e-9 * s.curve.intensity;  // as if counted for ever
  EXPECT_GE(absolute_scale(s.curve).relative_u, 0.02579);
}

// From Poisson frames of standard and background to k, many times over. Without the table's own error k must scatter as
// the counts cause says, and +-1 u must hold it in 68 % of 400 tries (+-2.3 %, binomial).
TEST(AbsoluteScale, IsCoveredByItsCountsAtLowCounts) {
  const DetectorGeometry g = small_detector();
  const PixelMap map = pixel_map(g, 60, 70);
  const Mask stop = map.q_per_nm < 0.2;
  AverageOptions options;
  const VectorXd edges = make_bins(map, stop, {.bins = 60});
  const Averager averager(map, stop, edges, options);
  const Image weight = map.solid_angle_sr() * polarisation(map, 0.5);
  const double k = 2e-5 * 4, t = 0.7, d = 0.1055, exposure = 30.0;
  const Frame standard = expected_frame(map, weight, exposure, [&](double q) {
    const double inside = std::clamp(q, srm3600().q_per_nm[0], srm3600().q_per_nm[58]);
    return t * (d * certified_intensity_per_cm(srm3600(), inside) / k + 1e4);
  });
  const Frame empty = expected_frame(map, weight, exposure, [&](double) { return 0.95e4; });
  std::mt19937_64 random(51);
  double sum = 0, square = 0, claimed = 0, lowest = 1e9;
  int inside = 0, within3 = 0;
  const int repeats = 400;
  for (int r = 0; r < repeats; ++r) {
    const Frame s = poisson_frame(standard, random), e = poisson_frame(empty, random);
    const Averaged as = averager.average({&s}, {.name = "standard"}), ae = averager.average({&e}, {.name = "empty"});
    const Absolute curve = absolute_curve({"standard", as.curve, Factor{t, {}}},
                                          Measured{"empty", ae.curve, Factor{0.95, {}}}, {.thickness_mm = 1.055});
    const AbsoluteScale a = absolute_scale(curve.curve);
    const double counts = a.factor.causes.at("absolute scale: counts");
    sum += a.factor.value;
    square += a.factor.value * a.factor.value;
    claimed += counts * counts / repeats;
    lowest = std::min(lowest, a.relative_u);
    inside += std::abs(a.factor.value - k) <= counts;
    within3 += std::abs(a.factor.value - k) <= 3 * counts;
  }
  const double mean = sum / repeats, sd = std::sqrt(square / repeats - mean * mean);
  EXPECT_NEAR(sd / std::sqrt(claimed), 1.0, 4 / std::sqrt(2.0 * repeats));
  EXPECT_NEAR(mean / k, 1.0, 0.3 * sd / k + 1e-3);  // 4 sd of the mean is 0.2 sd; plus the table's interpolation
  EXPECT_NEAR(inside / double(repeats), 0.683, 4 * 0.023);
  EXPECT_GE(within3, 390);
  EXPECT_GT(lowest, 0.0258);
}

TEST(AbsoluteScale, WarnsOfAShapeThatIsNotTheStandards) {
  Measured s = measured_table(1.0, 1.0, 1.0, VectorXd::Zero(59));
  s.curve.private_u = 0.005 * s.curve.intensity;
  EXPECT_TRUE(absolute_scale(s.curve).warnings.empty());
  Curve tilted = s.curve;
  tilted.intensity.array() *= 1 + 0.02 * (s.curve.q_per_nm.array() / 0.5).log();
  const AbsoluteScale a = absolute_scale(tilted);
  ASSERT_EQ(a.warnings.size(), 2u);
  EXPECT_HOLDS(a.warnings[0], "does not have the certified shape");
  EXPECT_NEAR(a.trend, 0.02 * std::log(2.47402 / 0.0827568), 0.004);
  EXPECT_HOLDS(a.warnings[1], "changes by +6.");
  Curve flat = s.curve;  // a forgotten background
  flat.intensity.array() += 2.0;
  EXPECT_FALSE(absolute_scale(flat).warnings.empty());
}

TEST(AbsoluteScale, RefusesWhenNothingOverlapsOrNothingScatters) {
  const Curve far = curve_on_bins(
      log_edges(3.0, 9.0, 30), [](double) { return 1.0; }, 0.1);
  const std::string text = message<InputError>([&] { absolute_scale(far); });
  EXPECT_HOLDS(text, "0 bins of the standard's curve lie in the certified range");
  EXPECT_HOLDS(text, "the certificate from 0.08276 to 2.474 1/nm");
  Measured s = measured_table(1.0, 1.0, 1.0, VectorXd::Zero(59));
  s.curve.intensity *= -1;
  EXPECT_HOLDS(message<InputError>([&] { absolute_scale(s.curve); }), "a standard must scatter");
}

}  // namespace
}  // namespace sievelight
