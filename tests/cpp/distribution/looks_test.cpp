// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/looks.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

Curve one_point(double q, double low, double high) {
  Curve c;
  c.q_per_nm = Eigen::VectorXd::Constant(1, q);
  c.intensity = c.private_u = Eigen::VectorXd::Ones(1);
  c.q_low_per_nm = Eigen::VectorXd::Constant(1, low);
  c.q_high_per_nm = Eigen::VectorXd::Constant(1, high);
  return c;
}

SlitProfile line_of(const LineWeight& length, double width_sd = 0) {
  SlitProfile out;
  out.length = length;
  out.width_sd = width_sd;
  return out;
}

SlitProfile infinite_line() {
  SlitProfile out;
  out.infinite = true;
  return out;
}

double mean_q(const Looks& looks) {
  double sum = 0;
  for (std::size_t k = 0; k < looks.at.size(); ++k) sum += looks.weight[k] * looks.at[k];
  return sum;
}

// Means of q over an annulus, 2/3 (high^3 - low^3)/(high^2 - low^2), and over a stretch, (low + high)/2.
TEST(Looks, CountABinAsAnAnnulusOrAStretch) {
  const Curve c = one_point(0.3, 0.2, 0.4);
  EXPECT_NEAR(mean_q(bin_looks(c, 0, 10.0, true)), 2.0 / 3 * (0.064 - 0.008) / (0.16 - 0.04), 1e-12);
  EXPECT_NEAR(mean_q(bin_looks(c, 0, 10.0, false)), 0.3, 1e-12);
}

// A normalised slit leaves a flat level flat; closed form for q^2: q^2 plus the second moment, which for the trapezoid
// is (a^2 + b^2)/6.
TEST(Looks, OfASlitSumToOneAndHaveItsSecondMoment) {
  const SlitLooks slit(line_of(trapezoid(0.5, 1.5), 0.03), 50.0);
  for (const double q : {0.02, 0.3, 2.0}) {
    double sum = 0, square = 0, high = 0;
    slit.visit(q, [&](double at, double weight) {
      sum += weight;
      square += weight * at * at;
      high = std::max(high, at);
    });
    EXPECT_NEAR(sum, 1.0, 1e-12) << q;
    EXPECT_NEAR(square, q * q + (0.25 + 2.25) / 6, 1e-10) << q;
    EXPECT_LE(high, slit.highest_per_nm(q));
    EXPECT_DOUBLE_EQ(slit.width_per_nm(q), 0.03);
  }
}

// A box seen through a Gaussian, evenly: mean of q^2 = q^2 + (high - low)^2/12 + sd^2; the rule is cut at 6.5 sd.
TEST(Looks, FoldTheWidthWithTheBin) {
  const Looks looks = bin_looks(one_point(0.3, 0.2, 0.4), 0, 10.0, false, 0.02);
  double square = 0;
  for (std::size_t k = 0; k < looks.at.size(); ++k) square += looks.weight[k] * looks.at[k] * looks.at[k];
  EXPECT_NEAR(mean_q(looks), 0.3, 1e-9);
  EXPECT_NEAR(square, 0.09 + 0.04 / 12 + 0.0004, 1e-8);
}

TEST(Looks, RefuseAnInfiniteSlit) { EXPECT_THROW(SlitLooks(infinite_line(), 10.0), InputError); }

}  // namespace
}  // namespace sievelight
