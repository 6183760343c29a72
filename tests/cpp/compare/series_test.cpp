// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/series.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/curve/arithmetic.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace sievelight {
namespace {

constexpr Eigen::Index points = 60;

Curve frame(std::mt19937_64& random, double scale_by = 1.0, double radius_nm = 4.0, double shared_scale = 0.0) {
  std::normal_distribution<double> normal;
  Curve c;
  c.unit = IntensityUnit::per_cm;
  c.q_per_nm.resize(points);
  c.intensity.resize(points);
  c.private_u.resize(points);
  for (Eigen::Index i = 0; i < points; ++i) {
    const double q = 0.1 * std::pow(20.0, static_cast<double>(i) / (points - 1));
    const double truth = scale_by * 10 * std::exp(-q * q * radius_nm * radius_nm / 5) + 0.1;
    c.q_per_nm[i] = q;
    c.private_u[i] = 0.03 * truth;
    c.private_u[i] *= 1 + shared_scale;
    c.intensity[i] = (1 + shared_scale) * truth + c.private_u[i] * normal(random);
  }
  c.causes["standard"] = {CauseKind::coherent, 0.1 * c.intensity};
  return c;
}

// Twelve frames of nothing new, 400 times: any claim in 20 of them is the promise at 5 %; 35 is 3.4 standard deviations
// above. A common scale error of 10 % (one draw a series) cancels.
TEST(Series, SeldomClaimsAChangeThatIsNone) {
  std::mt19937_64 random(3);
  std::normal_distribution<double> normal;
  int claimed = 0;
  for (int s = 0; s < 400; ++s) {
    const double common = 0.1 * normal(random);
    std::vector<Curve> series;
    for (int k = 0; k < 12; ++k) series.push_back(frame(random, 1, 4, common));
    if (find_change(series, {.start = 3}).first) ++claimed;
  }
  EXPECT_LE(claimed, 35) << claimed;
}

// From frame 6 on the contrast is 0.9 of the start: found at once, and told from a change of shape, 4.0 to 4.4 nm.
TEST(Series, FindsTheFirstChangeAndSaysOfWhichKind) {
  std::mt19937_64 random(4);
  int at_once = 0, as_scale = 0, as_shape = 0;
  for (int s = 0; s < 50; ++s) {
    std::vector<Curve> scaled, reshaped;
    for (int k = 0; k < 12; ++k) {
      scaled.push_back(frame(random, k < 6 ? 1.0 : 0.85));
      reshaped.push_back(frame(random, 1.0, k < 6 ? 4.0 : 4.4));
    }
    const SeriesChange a = find_change(scaled, {.start = 3}), b = find_change(reshaped, {.start = 3});
    if (a.first == 6) ++at_once;
    if (!a.frames[8].another_shape) ++as_scale;
    if (b.frames[8].another_shape) ++as_shape;
    EXPECT_NEAR(a.frames[9].contrast_ratio.value, 0.85, 5 * a.frames[9].contrast_ratio.u);
    EXPECT_LT(a.frames[9].contrast_ratio.u, 0.03);
  }
  EXPECT_GE(at_once, 44) << at_once;
  EXPECT_GE(as_scale, 46) << as_scale;
  EXPECT_GE(as_shape, 44) << as_shape;
}

// A change of 3 % in one of six frames of 60 points with 3 % noise each: 20 bands see it more often than 60 points do.
TEST(Series, BandsSeeMoreThanPoints) {
  std::mt19937_64 random(9);
  int in_bands = 0, in_points = 0;
  for (int s = 0; s < 200; ++s) {
    std::vector<Curve> series;
    for (int k = 0; k < 6; ++k) series.push_back(frame(random, k == 5 ? 0.97 : 1.0));
    if (find_change(series, {.start = 3}).frames[5].changed) ++in_bands;
    if (find_change(series, {.start = 3, .bands = 0}).frames[5].changed) ++in_points;
  }
  EXPECT_GT(in_bands, in_points + 20) << in_bands << " against " << in_points;
}

// A frame that lost bins to a spike keeps its place in the series.
TEST(Series, UsesTheBinsThatAllFramesHave) {
  std::mt19937_64 random(6);
  std::vector<Curve> series;
  for (int k = 0; k < 4; ++k) {
    Curve c = frame(random);
    c.q_low_per_nm = 0.99 * c.q_per_nm;
    c.q_high_per_nm = 1.01 * c.q_per_nm;
    series.push_back(std::move(c));
  }
  std::vector<Eigen::Index> kept;
  for (Eigen::Index i = 0; i < points; ++i)
    if (i < 20 || i > 24) kept.push_back(i);
  series[2] = pick(series[2], kept);
  EXPECT_EQ(find_change(series, {.bands = 0}).frames[3].degrees_of_freedom, 55);
  EXPECT_EQ(find_change(series).frames[3].degrees_of_freedom, 20);
  series[2] = pick(series[2], {0, 1, 2, 3});
  EXPECT_THROW(find_change(series), InputError);
}

TEST(Series, RefusesSeriesThatAreNone) {
  std::mt19937_64 random(5);
  std::vector<Curve> series{frame(random)};
  EXPECT_THROW(find_change(series), InputError);
  series.push_back(frame(random));
  series[1].q_per_nm *= 1.01;
  EXPECT_THROW(find_change(series), InputError);
  EXPECT_THROW(find_change({frame(random), frame(random)}, {.start = 0}), InputError);
}

// y = x upwards and x + 1 downwards over 0 to 4: an area of 4 and a mean difference of 1; the u of independent points
// by hand: weights of the trapezoids 1/2, 1, 1, 1 on each branch and what meets at the top, 1/2 - 1/2.
TEST(Series, HysteresisIsTheAreaBetweenTheBranches) {
  Eigen::VectorXd x(9), y(9);
  x << 0, 1, 2, 3, 4, 3, 2, 1, 0;
  y << 0, 1, 2, 3, 4.5, 4, 3, 2, 1;
  const Hysteresis h = hysteresis(x, y, 0.01 * Eigen::MatrixXd::Identity(9, 9));
  EXPECT_NEAR(h.area.value, 3.5, 1e-12);  // the branches meet in one point at the top
  EXPECT_NEAR(h.area.u, 0.1 * std::sqrt(2 * (0.25 + 3)), 1e-12);
  EXPECT_NEAR(h.mean_difference.value, 3.5 / 4, 1e-12);
  EXPECT_LT(h.p_zero, 1e-10);
  EXPECT_EQ(h.turning_point, 4);
  y << 0, 1, 2, 3, 4, 3, 2, 1, 0;
  EXPECT_NEAR(hysteresis(x, y, 0.01 * Eigen::MatrixXd::Identity(9, 9)).area.value, 0, 1e-12);
  x << 0, 1, 2, 3, 4, 5, 6, 7, 8;
  EXPECT_THROW(hysteresis(x, y, Eigen::MatrixXd::Identity(9, 9)), InputError);
}

// Repeats and a dwell count as their mean: each value of the first cycle above twice, and the same area; u falls by
// sqrt(2), because every value is the mean of two.
TEST(Series, RepeatedHumiditiesCountAsTheirMean) {
  Eigen::VectorXd x(9), y(9), x2(18), y2(18);
  x << 0, 1, 2, 3, 4, 3, 2, 1, 0;
  y << 0, 1, 2, 3, 4.5, 4, 3, 2, 1;
  for (Eigen::Index i = 0; i < 9; ++i) {
    x2[2 * i] = x[i] - 0.01;
    x2[2 * i + 1] = x[i] + 0.01;
    y2[2 * i] = y[i] - 0.3;
    y2[2 * i + 1] = y[i] + 0.3;
  }
  const Hysteresis once = hysteresis(x, y, 0.01 * Eigen::MatrixXd::Identity(9, 9));
  const Hysteresis twice = hysteresis(x2, y2, 0.01 * Eigen::MatrixXd::Identity(18, 18), 0.05);
  EXPECT_NEAR(twice.area.value, once.area.value, 1e-12);
  EXPECT_NEAR(twice.area.u, once.area.u / std::sqrt(2.0), 1e-12);
  EXPECT_EQ(twice.turning_point, 9);
  EXPECT_THROW(hysteresis(x2, y2, Eigen::MatrixXd::Identity(18, 18)), InputError);  // zigzag without a distance
}

TEST(Series, CyclesArePartedWhereTheVariableTurns) {
  Eigen::VectorXd x(12);
  x << 1, 2, 3, 2, 1, 1, 2, 4, 4, 3, 2, 5;  // up, down, dwell, up with a dwell, down, and a last rise alone
  const auto found = cycles(x);
  ASSERT_EQ(found.size(), 2u);
  EXPECT_EQ(found[0], std::make_pair(0, 5));
  EXPECT_EQ(found[1], std::make_pair(4, 10));
  EXPECT_TRUE(cycles(Eigen::VectorXd::LinSpaced(6, 0, 1)).empty());
  EXPECT_TRUE(cycles(Eigen::VectorXd::LinSpaced(6, 1, 0)).empty());
  x << 9, 8, 7, 8, 9, 8, 7, 7, 7, 7, 7, 7;  // begins with a fall
  ASSERT_EQ(cycles(x).size(), 1u);
  EXPECT_EQ(cycles(x)[0], std::make_pair(2, 11));
}

// Source: surface tension 71.97 mN/m, density 0.99705 g/cm3 at 25 C, so r = 1.0486 nm / -ln(RH) (by hand); 1.51 nm at
// 50 %.
TEST(Series, KelvinsRadius) {
  EXPECT_NEAR(kelvin_radius_nm(50, 25), 2 * 0.07197 * 18.015e-6 / 0.99705 / (8.3145 * 298.15 * std::log(2.0)) * 1e9,
              2e-3);
  EXPECT_GT(kelvin_radius_nm(90, 25), kelvin_radius_nm(50, 25));
  EXPECT_THROW(kelvin_radius_nm(100, 25), InputError);
  EXPECT_THROW(kelvin_radius_nm(50, 150), InputError);
}

}  // namespace
}  // namespace sievelight
