// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/frame_difference.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

Curve flat(Eigen::Index n, double level, double u) {
  Curve c;
  c.q_per_nm = Eigen::VectorXd::LinSpaced(n, 0.1, 2.0);
  c.intensity = Eigen::VectorXd::Constant(n, level);
  c.private_u = Eigen::VectorXd::Constant(n, u);
  return c;
}

// The mean of m equal points has 1/sqrt(m) of their u; a constant stays; every point is in one band.
TEST(FrameDifference, BandsAreMeansOfNeighbours) {
  const BandMeans bands({flat(103, 1, 0.1), flat(103, 1, 0.1)}, 20);
  EXPECT_EQ(bands.size(), 20);
  const Eigen::VectorXd ones = Eigen::VectorXd::Ones(103);
  EXPECT_LT((bands.of(ones) - Eigen::VectorXd::Ones(20)).norm(), 1e-12);
  const Eigen::VectorXd u = bands.u_of(0.1 * ones);
  for (Eigen::Index b = 0; b < 20; ++b) {
    EXPECT_LE(u[b], 0.1 / std::sqrt(5.0) + 1e-12);
    EXPECT_GE(u[b], 0.1 / std::sqrt(6.0) - 1e-12);
  }
  // The transpose: sum over bands of j_b mean_b is the same over the points.
  const Eigen::VectorXd j = Eigen::VectorXd::LinSpaced(20, -1, 1), x = Eigen::VectorXd::LinSpaced(103, 0, 3);
  EXPECT_NEAR(j.dot(bands.of(x).col(0)), bands.back(j).col(0).dot(x), 1e-12);
  EXPECT_EQ(BandMeans({flat(12, 1, 0.1)}, 0).size(), 12);
}

// A point of twice the u weighs a quarter: (1 * 1 + 1/4 * 3) / (5/4) = 1.4.
TEST(FrameDifference, UncertainPointsWeighLess) {
  Curve c = flat(10, 1, 0.1);
  c.private_u[1] = 0.2;
  Eigen::VectorXd x = Eigen::VectorXd::Ones(10);
  x[1] = 3;
  EXPECT_NEAR(BandMeans({c}, 5).of(x)(0, 0), 1.4, 1e-12);
}

// A scale that both share is no direction; one of the frame alone is.
TEST(FrameDifference, ASharedScaleCancels) {
  Curve a = flat(40, 1.0, 0.1), b = flat(40, 2.0, 0.1);
  a.causes["standard"] = {CauseKind::coherent, 0.05 * a.intensity};
  b.causes["standard"] = {CauseKind::coherent, 0.05 * b.intensity};
  const BandMeans bands({a, b}, 20);
  EXPECT_EQ(frame_difference(b, a, bands).noise.shared().cols(), 0);
  b.causes["transmission"] = {CauseKind::coherent, 0.02 * b.intensity};
  const FrameDifference found = frame_difference(b, a, bands);
  ASSERT_EQ(found.noise.shared().cols(), 1);
  EXPECT_NEAR(found.noise.shared()(3, 0), 0.02 * 1.0, 1e-12);  // on the reference
  EXPECT_NEAR(found.d[0], 1.0, 1e-12);
}

TEST(FrameDifference, RefusesAStartThatIsNone) {
  EXPECT_THROW(start_of_series({flat(20, 1, 0.1)}, 0), InputError);
  EXPECT_THROW(start_of_series({flat(20, 1, 0.1)}, 2), InputError);
  EXPECT_THROW(on_common_bins({flat(5, 1, 0.1), flat(5, 1, 0.1)}), InputError);
}

}  // namespace
}  // namespace sievelight
