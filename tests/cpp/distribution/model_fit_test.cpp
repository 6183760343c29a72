// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/model_fit.hpp"

#include "distribution/synthetic.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

ModelFit fitted(const Curve& c, const KernelOptions& model) {
  Kernel kernel = make_kernel(c, make_grid(c.q_low_per_nm[0], c.q_high_per_nm[c.size() - 1]), model);
  FitData data = make_fit_data(c, kernel, synthetic::contrast_per_cm2, false, true);
  return fit_model(std::move(data), std::move(kernel));
}

TEST(ModelFit, DescribesACurveWithinItsNoise) {
  const Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {}), 1);
  const ModelFit f = fitted(c, {});
  EXPECT_NEAR(f.fit.ratio(), 1.0, 5 * std::sqrt(2 / f.fit.dof));
  EXPECT_GT(f.effective, 4);
  EXPECT_LT(f.effective, 30);
  EXPECT_EQ(f.priors.size(), prior_orders.size());
  for (const PriorFit& p : f.priors) EXPECT_TRUE(p.best().converged);
}

// Spheres of one narrow size seen as dilute or as crowded: the data are of dilute ones, and the evidence says so.
TEST(ModelFit, EvidencePrefersTheModelThatMadeTheCurve) {
  const Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.1), {}), 2);
  KernelOptions crowded;
  crowded.interaction = HardSpheres{0.15, 1.0};
  const ModelFit right = fitted(c, {}), wrong = fitted(c, crowded);
  for (std::size_t k = 0; k < prior_orders.size(); ++k) EXPECT_GT(right.ln_evidence[k], wrong.ln_evidence[k] + 10);
}

// Probabilities of a table of chi^2: 18.307 is the 95 % point for 10 degrees of freedom.
TEST(ModelFit, GoodnessIsChiSquared) {
  const Goodness g{18.307, 10};
  EXPECT_NEAR(g.too_large(), 0.05, 1e-5);
  EXPECT_NEAR(g.too_small(), 0.95, 1e-5);
}

}  // namespace
}  // namespace sievelight
