// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/background_factor.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/reduce/bins.hpp"

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::VectorXd;

double cell(double q) { return 50 / q + 20; }

// Counts from a few to many: the fit is unbiased and its u is the scatter of repeats. 3000 repeats: mean to u/55,
// standard deviation to 1.3 %; 4 of each.
TEST(BackgroundFactor, IsUnbiasedWithTheScatterItClaims) {
  const VectorXd edges = log_edges(1.0, 5.0, 40);
  std::mt19937_64 random(41);
  for (const double level : {0.3, 3.0}) {  // 10 to 21, or 100 to 210 counts a bin
    double sum = 0, square = 0, claimed = 0;
    const int repeats = 3000;
    for (int r = 0; r < repeats; ++r) {
      const auto counted = [&](double factor) {
        Curve c = curve_on_bins(
            edges, [&](double q) { return factor * level * cell(q); }, 0.0);
        for (int i = 0; i < 40; ++i) {
          c.intensity[i] = static_cast<double>(std::poisson_distribution<int>(c.intensity[i])(random));
          c.private_u[i] = std::sqrt(c.intensity[i] + (c.intensity[i] < 10));
        }
        return c;
      };
      const BackgroundFactor f = fit_background_factor({"s", counted(0.82), {}}, {"b", counted(1.0), {}}, {1.0, 5.0});
      sum += f.factor.value;
      square += f.factor.value * f.factor.value;
      claimed += f.u * f.u / repeats;
    }
    const double mean = sum / repeats, sd = std::sqrt(square / repeats - mean * mean);
    // The mean to 4 sd/sqrt(3000) = 0.073 sd, plus a bias: a ratio is high by the relative variance of the lower sum
    // (1/600 of it at the fewest counts), and smoothed weights keep an eleventh of the pull of single points.
    EXPECT_NEAR(mean, 0.82, 0.25 * sd) << level;
    // Few counts claim N + 1 below ten, so u may be a little large.
    EXPECT_NEAR(sd / std::sqrt(claimed), 1.0, 0.06) << level;
  }
}

TEST(BackgroundFactor, CarriesTheSharedCausesWithTheirSigns) {
  const VectorXd edges = log_edges(1.0, 5.0, 40);
  Curve s = curve_on_bins(
      edges, [](double q) { return 0.82 * cell(q); }, 0.01);
  Curve b = curve_on_bins(edges, cell, 0.01);
  s.causes["flux"] = {CauseKind::coherent, 0.03 * s.intensity};
  b.causes["flux"] = {CauseKind::coherent, 0.03 * b.intensity};
  s.causes["monitor: s"] = {CauseKind::coherent, 0.02 * s.intensity};
  const BackgroundFactor f = fit_background_factor({"s", s, {}}, {"b", b, {}}, {2.0, 4.0});
  EXPECT_NEAR(f.factor.value, 0.82, 1e-12);
  EXPECT_NEAR(f.factor.causes.at("flux"), 0.0, 1e-12);  // common to both: the ratio does not move
  EXPECT_NEAR(f.factor.causes.at("monitor: s"), 0.02 * 0.82, 1e-12);
  EXPECT_GT(f.factor.causes.at("background scale: b fitted to s"), 0);
  EXPECT_HOLDS(f.note, "it was not measured");
  // Used on the whole curve it leaves nothing, whatever the monitor read.
  AbsoluteOptions o;
  o.background_scale = f.factor;
  const Curve net = absolute_curve({"s", s, {}}, Measured{"b", b, {}}, o).curve;
  EXPECT_LT(net.intensity.cwiseAbs().maxCoeff(), 1e-10);
  EXPECT_LT(net.causes.at("monitor: s").u.cwiseAbs().maxCoeff(), 1e-10);
}

// The sample scatters itself in the range: the factor then depends on the range by far more than the counts allow, and
// u must say so.
TEST(BackgroundFactor, AdmitsThatTheShapesDiffer) {
  const VectorXd edges = log_edges(1.0, 5.0, 80);
  const Curve b = curve_on_bins(edges, cell, 1e-4);
  const Curve s = curve_on_bins(
      edges, [](double q) { return 0.82 * cell(q) + 3 * std::sin(4 * q); }, 1e-4);
  const BackgroundFactor all = fit_background_factor({"s", s, {}}, {"b", b, {}}, {1.0, 5.0});
  EXPECT_GT(all.chi2_per_point, 100);
  EXPECT_HOLDS(all.note, "their shapes differ there");
  EXPECT_NEAR(all.u, std::sqrt(all.chi2_per_point) * 1.16e-4 / std::sqrt(80.0), 0.1 * all.u);
  EXPECT_LT(std::abs(all.factor.value - 0.82), 5 * all.u);
}

TEST(BackgroundFactor, UsesTransmissionsWhereTheyAreKnown) {
  const VectorXd edges = log_edges(1.0, 5.0, 40);
  const Measured s{"s",
                   curve_on_bins(
                       edges, [](double q) { return 0.4 * 1.1 * cell(q); }, 0.01),
                   Factor{0.4, {}}};
  const Measured b{"b",
                   curve_on_bins(
                       edges, [](double q) { return 0.9 * cell(q); }, 0.01),
                   Factor{0.9, {}}};
  EXPECT_NEAR(fit_background_factor(s, b, {1.0, 5.0}).factor.value, 1.1, 1e-12);
}

TEST(BackgroundFactor, RefusesARangeWithoutPointsOrIntensity) {
  const VectorXd edges = log_edges(1.0, 5.0, 40);
  const Curve c = curve_on_bins(edges, cell, 0.01), zero = curve_on_bins(
                                                        edges, [](double) { return 0.0; }, 0.0);
  EXPECT_HOLDS(message<InputError>([&] {
                 fit_background_factor({"s", c, {}}, {"b", c, {}}, {8, 12});
               }),
               "no point lies between");
  EXPECT_HOLDS(message<InputError>([&] {
                 fit_background_factor({"s", c, {}}, {"b", zero, {}}, {1, 5});
               }),
               "the background 'b' shows no intensity between 1 and 5");
}

TEST(OverSubtraction, IsFoundWhereItIsAndNotByChance) {
  const VectorXd edges = log_edges(0.1, 5.0, 100);
  std::mt19937_64 random(42);
  std::normal_distribution<double> normal;
  int alarms = 0;
  for (int r = 0; r < 500; ++r) {
    Curve c = curve_on_bins(
        edges, [](double) { return 0.0; }, 0.0);
    c.private_u.setOnes();
    for (int i = 0; i < 100; ++i) c.intensity[i] = normal(random);
    alarms += over_subtracted(c).significant;
  }
  EXPECT_LE(alarms, 12);  // 1 % of 500 is 5, sd 2.2
  Curve c = curve_on_bins(
      edges, [](double q) { return 10 * std::exp(-q * q) - 0.5; }, 0.0);
  c.private_u.setConstant(0.1);
  const OverSubtraction found = over_subtracted(c);
  EXPECT_TRUE(found.significant);
  EXPECT_GT(found.q_range_per_nm.low, 1.7);
  EXPECT_GT(found.negative_share, 0.1);
  c.causes["background scale: b"] = {CauseKind::coherent, VectorXd::Constant(100, 0.5)};  // within its uncertainty
  EXPECT_FALSE(over_subtracted(c).significant);
}

}  // namespace
}  // namespace sievelight
