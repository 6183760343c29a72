// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/max_entropy.hpp"

#include "distribution/synthetic.hpp"
#include "sievelight/distribution/fit_data.hpp"
#include "sievelight/distribution/invert.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

FitData data_of(const Curve& c) {
  return make_fit_data(c, make_kernel(c, InvertOptions{}), synthetic::contrast_per_cm2, false, false);
}

TEST(MaxEntropy, ReachesAChiSquaredOfOneAPointWithAllSizesPositive) {
  const Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {}), 1);
  const FitData data = data_of(c);
  const Preview fit = max_entropy(data.compressed, data.nodes);
  EXPECT_GT(fit.x.minCoeff(), 0);
  // Lowered in steps of 0.4, alpha ends below n but not far below.
  EXPECT_LE(fit.chi2 + data.compressed.rest, 119);
  EXPECT_GT(fit.chi2 + data.compressed.rest, 80);
  EXPECT_GT(fit.effective, 3);
  EXPECT_LT(fit.effective, 30);
}

// The stationary point of its own functional: the gradient of chi^2/2 - alpha S vanishes, by finite differences.
TEST(MaxEntropy, IsStationary) {
  const Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {}), 2);
  const FitData data = data_of(c);
  const Preview fit = max_entropy(data.compressed, data.nodes);
  const double alpha = std::exp(fit.ln_strength), level = preview(data.compressed, data.nodes).x.mean();
  const auto value = [&](const Eigen::VectorXd& x) {
    const Eigen::ArrayXd s = x.array() - level - x.array() * (x.array() / level).log();
    return 0.5 * (data.compressed.m * x - data.compressed.y).squaredNorm() - alpha * s.sum();
  };
  const double here = value(fit.x);
  for (Eigen::Index j = 0; j < data.nodes; j += 7) {
    Eigen::VectorXd up = fit.x, down = fit.x;
    up[j] *= 1.02;
    down[j] *= 0.98;
    EXPECT_GT(value(up) - here, -1e-3) << j;
    EXPECT_GT(value(down) - here, -1e-3) << j;
  }
}

}  // namespace
}  // namespace sievelight
