// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/shared_points.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/curve/influence.hpp"

#include <gtest/gtest.h>

#include <numeric>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

/// Bins of width 0.1 from 0.1 on, with a blank's counts in all of them.
Curve on_bins(const std::vector<int>& bins) {
  const auto n = static_cast<Index>(bins.size());
  Curve c;
  c.q_low_per_nm.resize(n);
  for (Index i = 0; i < n; ++i) c.q_low_per_nm[i] = 0.1 * (1 + bins[static_cast<std::size_t>(i)]);
  c.q_high_per_nm = c.q_low_per_nm.array() + 0.1;
  c.q_per_nm = c.q_low_per_nm.array() + 0.05;
  c.intensity = c.private_u = VectorXd::Ones(n);
  c.causes["counts: blank"] = {CauseKind::pointwise, c.q_per_nm};
  return c;
}

TEST(SharedPoints, AreTheBinsThatBothHaveWhateverTheMeanInside) {
  const Curve a = on_bins({0, 1, 2, 4});
  Curve b = on_bins({1, 2, 3, 4});
  b.q_per_nm.array() += 0.02;
  const SharedPoints same = shared_points("counts: blank", a, b);
  EXPECT_EQ(same.in_a, (std::vector<Index>{1, 2, 3}));
  EXPECT_EQ(same.in_b, (std::vector<Index>{0, 1, 3}));
  const Eigen::MatrixXd full = covariance(a, b);
  EXPECT_DOUBLE_EQ(full(3, 3), a.q_per_nm[3] * b.causes.at("counts: blank").u[3]);
  EXPECT_EQ((full.array() != 0).count(), 3);
  const VectorXd ja = VectorXd::LinSpaced(4, 1, 2), jb = VectorXd::LinSpaced(4, 3, 1);
  EXPECT_NEAR(covariance_of_summaries(ja, a, jb, b), ja.dot(full * jb), 1e-15);
}

TEST(SharedPoints, AreNotGuessedWhereBinsOverlapWithoutBeingTheSame) {
  const Curve a = on_bins({0, 1, 2});
  Curve b = a;
  b.q_high_per_nm[1] += 0.02;
  b.q_low_per_nm[2] += 0.02;
  EXPECT_THROW(shared_points("counts: blank", a, b), InputError);
  Curve bare = a;  // no edges: q decides
  bare.q_low_per_nm.resize(0);
  bare.q_high_per_nm.resize(0);
  EXPECT_EQ(shared_points("counts: blank", a, bare).in_b.size(), 3u);
  bare.q_per_nm[1] += 0.01;
  EXPECT_THROW(shared_points("counts: blank", a, bare), InputError);
}

TEST(SharedPoints, AreNoneOfCurvesThatDoNotMeet) {
  EXPECT_TRUE(shared_points("counts: blank", on_bins({0, 1}), on_bins({5, 6})).in_a.empty());
}

}  // namespace
}  // namespace sievelight
