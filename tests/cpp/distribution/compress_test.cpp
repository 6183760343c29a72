// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/compress.hpp"

#include <gtest/gtest.h>

#include "distribution/synthetic.hpp"

namespace sievelight {
namespace {

TEST(Compress, KeepsChiSquareOfEveryDistributionBelowTheData) {
  const Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {}), 1);
  const SizeGrid grid = make_grid(c.q_per_nm[0], c.q_per_nm[c.size() - 1]);
  const Kernel kernel = make_kernel(c, grid);
  const Eigen::MatrixXd columns = kernel.volume_nm3 * contrast_factor(synthetic::contrast_per_cm2);
  const Noise noise(c.private_u, Eigen::VectorXd::Constant(c.size(), 0.2));
  const Compressed small = compress(noise, c.intensity, columns);
  EXPECT_LT(small.m.rows(), 70);
  EXPECT_LT((small.back.transpose() * small.back - Eigen::MatrixXd::Identity(small.m.rows(), small.m.rows())).norm(),
            1e-10);
  for (const double median : {6.0, 14.0, 30.0})
    for (const double sigma : {0.1, 0.5}) {
      Eigen::VectorXd x(grid.size());
      for (Eigen::Index j = 0; j < x.size(); ++j)
        x[j] = 0.1 * synthetic::log_normal(median, sigma)(grid.diameter_nm[j]);
      const double full = noise.whiten(c.intensity - columns * x).squaredNorm();
      const double compressed = (small.y - small.m * x).squaredNorm() + small.rest;
      // Dropped directions are below 1e-3 standard deviations each.
      EXPECT_NEAR(compressed, full, 1e-2 + 1e-4 * full) << median << " " << sigma;
    }
}

}  // namespace
}  // namespace sievelight
