// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/filling.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/distribution/sphere.hpp"

#include <gsl/gsl_cdf.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

namespace sievelight {
namespace {

constexpr double median_nm = 12.0, sigma = 0.25, filled_ratio = 0.25;

double share_below(double diameter_nm) { return gsl_cdf_ugaussian_P(std::log(diameter_nm / median_nm) / sigma); }

enum class Order { small_first, large_first };

// Log-normal spheres, a part of them filled: the sphere's closed form, summed on a grid of its own.
Curve frame(std::mt19937_64& random, double filled_share, Order order = Order::small_first, double noise = 0.02,
            double grow = 1.0) {
  std::normal_distribution<double> normal;
  constexpr Eigen::Index points = 100;
  Curve c;
  c.unit = IntensityUnit::per_cm;
  c.q_per_nm.resize(points);
  c.intensity.resize(points);
  c.private_u.resize(points);
  for (Eigen::Index i = 0; i < points; ++i) c.q_per_nm[i] = 0.1 * std::pow(20.0, static_cast<double>(i) / (points - 1));
  c.q_low_per_nm = 0.985 * c.q_per_nm;
  c.q_high_per_nm = 1.015 * c.q_per_nm;
  constexpr int cells = 2000;
  Eigen::VectorXd sum = Eigen::VectorXd::Constant(points, 0.02);
  for (int k = 0; k < cells; ++k) {
    const double share = (k + 0.5) / cells;  // quantile of the pore volume
    const double d = grow * median_nm * std::exp(sigma * gsl_cdf_ugaussian_Pinv(share));
    const bool filled = order == Order::small_first ? share < filled_share : share > 1 - filled_share;
    const double volume = std::numbers::pi / 6 * d * d * d;
    for (Eigen::Index i = 0; i < points; ++i) {
      const double x = 0.5 * c.q_per_nm[i] * d;
      const double amplitude = x < 0.05 ? 1 - x * x / 10 : 3 * (std::sin(x) - x * std::cos(x)) / (x * x * x);
      sum[i] += 0.05 * volume / cells * (filled ? filled_ratio : 1.0) * amplitude * amplitude;
    }
  }
  for (Eigen::Index i = 0; i < points; ++i) {
    c.private_u[i] = noise * sum[i];
    c.intensity[i] = sum[i] + c.private_u[i] * normal(random);
  }
  return c;
}

// The start's pores as an inversion gives them: the truth, moved a little from draw to draw.
StartPores pores(std::mt19937_64& random, double scatter = 0.004) {
  std::normal_distribution<double> normal;
  constexpr Eigen::Index m = 90;
  StartPores out;
  out.diameter_nm.resize(m);
  out.cumulative_draws.resize(m, 60);
  for (Eigen::Index j = 0; j < m; ++j)
    out.diameter_nm[j] = 4.0 * std::pow(9.0, static_cast<double>(j) / static_cast<double>(m - 1));
  for (Eigen::Index k = 0; k < out.cumulative_draws.cols(); ++k) {
    const double shift = 1 + scatter * normal(random), low = share_below(shift * 4.0), high = share_below(shift * 36.0);
    for (Eigen::Index j = 0; j < m; ++j)
      out.cumulative_draws(j, k) = (share_below(shift * out.diameter_nm[j]) - low) / (high - low);
  }
  return out;
}

const std::vector<double> shares = {0, 0, 0, 0.02, 0.1, 0.3, 0.6, 0.9, 1.0};

std::vector<Curve> cycle(std::mt19937_64& random, Order order = Order::small_first, double grow = 1.0) {
  std::vector<Curve> out;
  for (std::size_t k = 0; k < shares.size(); ++k)
    out.push_back(frame(random, shares[k], order, 0.02, k < 3 ? 1.0 : grow));
  return out;
}

// Shares and diameters of the truth within four standard uncertainties, which are small enough to mean something; what
// the change alone calls another shape is named a filling. 30 series: pulls as they should be.
TEST(Filling, FindsHowFarThePoresAreFilled) {
  std::mt19937_64 random(11);
  double pulls = 0.0;
  int count = 0, refused = 0, other_shape = 0;
  for (int s = 0; s < 30; ++s) {
    const std::vector<Curve> curves = cycle(random);
    const SeriesChange change = find_change(curves, {.start = 3});
    const Filling found = find_filling(curves, pores(random), change, {.start = 3, .filled_ratio = filled_ratio});
    for (std::size_t k = 3; k < curves.size(); ++k) {
      const FillingFrame& f = found.frames[k];
      EXPECT_NEAR(f.filled_share.value, shares[k], 4.5 * f.filled_share.u + 1e-3) << k;
      EXPECT_LT(f.filled_share.u, 0.05);
      if (shares[k] > 0.05 && shares[k] < 0.95) {
        const double truth = median_nm * std::exp(sigma * gsl_cdf_ugaussian_Pinv(shares[k]));
        EXPECT_NEAR(f.filled_up_to_nm.value, truth, 4.5 * f.filled_up_to_nm.u) << k;
        pulls += std::pow((f.filled_share.value - shares[k]) / f.filled_share.u, 2);
        ++count;
      }
      refused += f.refused;
      other_shape += change.frames[k].another_shape;
    }
    if (s == 0) {
      EXPECT_NE(found.words.find("need not have changed"), std::string::npos) << found.words;
    }
  }
  // chi^2 of 120 pulls, of which those of one series share the start: 0.5 to 1.6 is four sd of it and more.
  EXPECT_GT(pulls / count, 0.4);
  EXPECT_LT(pulls / count, 1.6);
  EXPECT_LE(refused, 4) << refused;  // of 30 series at 5 % each
  EXPECT_GT(other_shape, 50);
}

// Large pores first, or pores that grew: not a filling from the smallest up.
TEST(Filling, RefusesWhatIsNone) {
  std::mt19937_64 random(12);
  for (const bool grown : {false, true}) {
    std::vector<Curve> curves = cycle(random, Order::large_first);
    if (grown)
      for (std::size_t k = 3; k < curves.size(); ++k) curves[k] = frame(random, 0.0, Order::small_first, 0.02, 1.1);
    const SeriesChange change = find_change(curves, {.start = 3});
    const Filling found = find_filling(curves, pores(random), change, {.start = 3, .filled_ratio = filled_ratio});
    EXPECT_TRUE(found.frames[5].refused) << grown;
    EXPECT_NE(found.words.find("does not give"), std::string::npos) << found.words;
  }
}

TEST(Filling, SaysNothingOfASeriesThatStays) {
  std::mt19937_64 random(13);
  std::vector<Curve> curves;
  for (int k = 0; k < 6; ++k) curves.push_back(frame(random, 0.0));
  const SeriesChange change = find_change(curves, {.start = 3});
  const Filling found = find_filling(curves, pores(random), change, {.start = 3, .filled_ratio = filled_ratio});
  EXPECT_LT(found.frames[4].filled_share.band95.low, 0.01);
  ASSERT_FALSE(change.first);
  EXPECT_NE(found.words.find("nothing changed"), std::string::npos);
}

// The start's errors are common to all frames: a noisy start makes the shares rise and fall together.
TEST(Filling, FramesShareTheErrorsOfTheStart) {
  std::mt19937_64 random(14);
  std::vector<Curve> curves = cycle(random);
  curves[0] = frame(random, 0.0, Order::small_first, 0.05);
  const SeriesChange change = find_change(curves, {.start = 1});
  const Filling found = find_filling(curves, pores(random), change, {.start = 1, .filled_ratio = filled_ratio});
  const Eigen::MatrixXd& v = found.share_covariance;
  EXPECT_GT(v(5, 6) / std::sqrt(v(5, 5) * v(6, 6)), 0.3);
  EXPECT_NEAR(std::sqrt(v(5, 5)), found.frames[5].filled_share.u, 1e-9);
}

TEST(Filling, RefusesBadInput) {
  std::mt19937_64 random(15);
  const std::vector<Curve> curves = cycle(random);
  const SeriesChange change = find_change(curves);
  StartPores p = pores(random);
  EXPECT_THROW(find_filling(curves, p, change, {.filled_ratio = 1.0}), InputError);
  EXPECT_THROW(find_filling(curves, p, SeriesChange{}, {}), InputError);
  p.diameter_nm[3] = 1.0;
  EXPECT_THROW(find_filling(curves, p, change, {}), InputError);
}

}  // namespace
}  // namespace sievelight
