// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/indexing.hpp"

#include "analysis/synthetic.hpp"
#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

namespace sievelight {
namespace {

using namespace synthetic;

// Positions of the first `count` reflections of a lattice, each with a relative u; seen up to a little beyond the last.
Indexing of_lattice(Symmetry symmetry, double a, std::size_t count, double relative_u = 5e-4,
                    const IndexingOptions& options = {}) {
  const std::vector<Reflection> all = reflections(symmetry, 80);
  Eigen::VectorXd q(count);
  for (std::size_t k = 0; k < count; ++k) q[k] = 2.0 * pi / a * all[k].ratio;
  return index_positions(q, relative_u * q, {0.3 * q[0], 1.02 * q[count - 1]}, options);
}
const LatticeCandidate& of(const Indexing& result, Symmetry symmetry) {
  return *std::find_if(result.candidates.begin(), result.candidates.end(),
                       [&](const LatticeCandidate& c) { return c.symmetry == symmetry; });
}

TEST(Indexing, RecognisesEverySymmetryFromEnoughPeaks) {
  for (const Symmetry symmetry : known_symmetries()) {
    // Primitive and body-centred share their first six ratios (reference table 8); the seventh tells them apart.
    const std::size_t peaks = symmetry == Symmetry::pm3m || symmetry == Symmetry::im3m ? 8 : 6;
    const Indexing result = of_lattice(symmetry, 15.0, peaks);
    // That a seventh is absent speaks less clearly for the primitive lattice than its presence for the other.
    EXPECT_EQ(result.decided, symmetry != Symmetry::pm3m) << name(symmetry) << ": " << result.verdict;
    EXPECT_GT(result.candidates.front().share, 0.8);
    const LatticeCandidate& first = result.candidates.front();
    EXPECT_EQ(first.symmetry, symmetry) << result.verdict;
    EXPECT_NEAR(first.lattice_nm.value, 15.0, 1e-9);
    EXPECT_EQ(first.indexed.size(), peaks);
    EXPECT_TRUE(first.missing.empty() && first.unindexed.empty());
  }
}

TEST(Indexing, ReportsBothWhereTwoLatticesFitEqually) {
  // First six ratios of primitive and body-centred cubic are the same.
  const Indexing result = of_lattice(Symmetry::im3m, 15.0, 6);
  EXPECT_FALSE(result.decided);
  EXPECT_NEAR(of(result, Symmetry::pm3m).share, of(result, Symmetry::im3m).share, 1e-3);
  EXPECT_NEAR(of(result, Symmetry::pm3m).lattice_nm.value, 15.0 / std::sqrt(2.0), 1e-9);
  EXPECT_NE(result.verdict.find("Pm-3m"), std::string::npos);
  EXPECT_NE(result.verdict.find("Im-3m"), std::string::npos);
  // sqrt6 : sqrt8 of the gyroid is sqrt3 : sqrt4 of the face-centred lattice.
  const Indexing two = of_lattice(Symmetry::ia3d, 20.0, 2);
  EXPECT_FALSE(two.decided);
  EXPECT_TRUE(of(two, Symmetry::ia3d).explains && of(two, Symmetry::fm3m).explains);
  EXPECT_FALSE(two.warnings.empty());
}

TEST(Indexing, GivesASpacingOnlyForOnePeak) {
  const Eigen::VectorXd q = Eigen::VectorXd::Constant(1, 1.07625648), u = Eigen::VectorXd::Constant(1, 1e-4);
  const Indexing result = index_positions(q, u, {0.1, 1.5});
  EXPECT_FALSE(result.decided);
  EXPECT_NE(result.verdict.find("spacing of 5.838 nm only"), std::string::npos) << result.verdict;
  EXPECT_NEAR(result.spacing_nm.value, 5.8380, 1e-5);
  EXPECT_NEAR(result.spacing_nm.u, 5.8380 * 1e-4 / 1.07625648, 1e-7);
}

// 1 : sqrt3 : 2 are sqrt2 : sqrt6 : sqrt8 of Im-3m without sqrt4, too: favoured, not proved.
TEST(Indexing, SaysHowClearThreeHexagonalPeaksAre) {
  const Indexing result = of_lattice(Symmetry::p6mm, 10.0, 3);
  EXPECT_EQ(result.candidates.front().symmetry, Symmetry::p6mm);
  EXPECT_GT(result.candidates.front().share, 0.5);
  EXPECT_FALSE(result.decided);
  EXPECT_TRUE(of_lattice(Symmetry::p6mm, 10.0, 4).decided);
}

TEST(Indexing, NamesMissingAndForeignPeaks) {
  // A gyroid without 220, which is strong, and a foreign peak.
  const double unit = 2.0 * pi / 20.0;
  Eigen::VectorXd q(5);
  q << unit * std::sqrt(6.0), unit * std::sqrt(14.0), unit * std::sqrt(16.0), 4.4 * unit, unit * std::sqrt(20.0);
  const Indexing result = index_positions(q, 5e-4 * q, {0.3, 1.5}, {.symmetries = {Symmetry::ia3d}});
  const LatticeCandidate& c = result.candidates.front();
  EXPECT_EQ(c.unindexed, std::vector<int>{3});
  ASSERT_EQ(c.missing.size(), 1u);
  EXPECT_EQ(c.missing[0].indices, "220");
  EXPECT_TRUE(c.misses_strong);
  EXPECT_FALSE(c.explains);
  EXPECT_EQ(result.verdict, "none of the symmetries explains all peaks");
}

TEST(Indexing, DoesNotBelieveRandomPositions) {
  std::mt19937_64 random(3);
  std::uniform_real_distribution<double> even(0.0, 1.0);
  int decided = 0;
  for (int k = 0; k < 200; ++k) {
    Eigen::VectorXd q(4);
    for (double& x : q) x = 0.5 * std::exp(1.2 * even(random));
    std::sort(q.begin(), q.end());
    if ((q.tail(3) - q.head(3)).minCoeff() < 0.01) continue;
    decided += index_positions(q, 1e-3 * q, {0.3, 2.0}).decided;
  }
  // The finest lattice tried has some ten reflections in this range, each 8e-3 of it wide: three peaks that must fall
  // on them do so by chance in about 1e-3 of cases, for each of eight symmetries and some twenty trial lattices.
  EXPECT_LE(decided, 10);
}

// Weighted least squares in closed form for two orders.
TEST(Indexing, FitsTheLatticeByItsWeights) {
  Eigen::VectorXd q(2), u(2);
  q << 1.0, 2.002;
  u << 1e-3, 2e-3;
  const Indexing result = index_positions(q, u, {0.5, 2.5}, {.symmetries = {Symmetry::lamellar}});
  const double w0 = 1e6, w1 = 2.5e5, kappa = (w0 * 1.0 + w1 * 2.0 * 2.002) / (w0 + 4.0 * w1);
  const CurveEstimate& a = result.candidates.front().lattice_nm;
  EXPECT_NEAR(a.value, 2.0 * pi / kappa, 1e-12);
  EXPECT_NEAR(a.u, a.value / kappa / std::sqrt(w0 + 4.0 * w1), 1e-12);
  EXPECT_NEAR(result.candidates.front().chi2, w0 * std::pow(1.0 - kappa, 2) + w1 * std::pow(2.002 - 2 * kappa, 2),
              1e-9);
  const Indexing scaled = index_positions(q, u, {0.5, 2.5}, {{Symmetry::lamellar}, 1e-3});
  EXPECT_NEAR(scaled.candidates.front().lattice_nm.u, std::hypot(a.u, 1e-3 * a.value), 1e-12);
}

// A factor q^-p under a Gaussian peak of sd s moves its top by p s^2 / q: the source of the cause "peak shape".
TEST(Indexing, KnowsWhatASlopeDoesToATop) {
  const double p = 4.0, s = 0.03, step = 1e-5;
  double best = 0.0, at = 0.0;
  for (double q = 0.9; q < 1.1; q += step) {
    const double value = std::pow(q, -p) * std::exp(-0.5 * std::pow((q - 1.0) / s, 2));
    if (value > best) best = value, at = q;
  }
  EXPECT_NEAR(1.0 - at, p * s * s, 0.02 * p * s * s);
}

// Coverage of the 95 % interval of a, peaks found, fitted and indexed anew in each curve; with and without a factor
// q^-3 under the peaks. The causes "peak shape" (the sd of a factor q^-2) and "peak profile" are systematic: without
// the factor the interval covers more than it says, by design. Measured: 100 % and 98 %; bound 95 % less 3 binomial sd
// (1.5 %).
TEST(Indexing, StatesALatticeParameterThatCovers) {
  for (double power : {0.0, 3.0}) {
    std::mt19937_64 random(21);
    const Curve truth = with_relative_u(ordered_curve(log_grid(0.1, 5.0, 250), {.power = power}), 0.03);
    int found = 0, in95 = 0;
    for (int k = 0; k < 200; ++k) {
      const Curve curve = draw(truth, random);
      const CurvePeaks peaks = find_curve_peaks(curve);
      if (peaks.peaks.empty()) continue;
      const Indexing result = index_peaks(curve, peaks);
      if (result.candidates.front().symmetry != Symmetry::p6mm) continue;
      ++found;
      in95 += result.candidates.front().lattice_nm.band95.contains(10.0);
    }
    EXPECT_GT(found, 190) << power;
    EXPECT_GT(in95, 0.905 * found) << power;
  }
}

// The derivative that a reduction puts into a q-scale cause spans three bins at least; measured with one on sharp
// peaks, the shift that arrives is 88 to 100 % at 3 points to a width and more, 71 to 86 % at 2.
TEST(Indexing, WarnsWhereAnErrorOfTheScaleIsSmoothedAway) {
  std::mt19937_64 random(5);
  for (const auto& [points, warned] : {std::pair{130, true}, {200, false}, {1200, false}}) {
    Curve curve = with_relative_u(ordered_curve(Eigen::VectorXd::LinSpaced(points, 0.3, 3.0), {}), 0.02);
    curve.causes["distance"] = {CauseKind::coherent, 1e-3 * curve.intensity};
    curve = draw(curve, random);
    const CurvePeaks peaks = find_curve_peaks(curve);
    EXPECT_EQ(!index_peaks(curve, peaks).warnings.empty(), warned) << points;
    EXPECT_TRUE(index_peaks(curve, peaks, {.q_scale_relative_u = 1e-3}).warnings.empty());
  }
}

TEST(Indexing, RefusesWhatCannotBeIndexed) {
  const Curve smooth = with_relative_u(ordered_curve(log_grid(0.1, 5.0, 100), {.contrast = {}}), 0.01);
  EXPECT_THROW(index_peaks(smooth, find_curve_peaks(smooth)), InputError);
  Eigen::VectorXd q(2), u(2);
  q << 2.0, 1.0;
  u << 0.1, 0.1;
  EXPECT_THROW(index_positions(q, u, {0.0, 3.0}), InputError);
  q << 1.0, 2.0;
  EXPECT_THROW(index_positions(q, Eigen::VectorXd::Zero(2), {0.0, 3.0}), InputError);
  EXPECT_THROW(index_positions(q, u, {0.0, 3.0}, {.symmetries = {}}), InputError);
}

}  // namespace
}  // namespace sievelight
