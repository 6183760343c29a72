// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/draw_models.hpp"

#include "distribution/synthetic.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

WeightedModel model(const Curve& c, double value, double weight) {
  Kernel kernel = make_kernel(c, make_grid(c.q_low_per_nm[0], c.q_high_per_nm[c.size() - 1]));
  FitData data = make_fit_data(c, kernel, synthetic::contrast_per_cm2, false, true);
  return {value, fit_model(std::move(data), std::move(kernel)), {weight, weight}};
}

Eigen::Index count(const DrawSet& set) {
  Eigen::Index out = 0;
  for (const auto& chain : set.chains) out += chain.cols();
  return out;
}

TEST(DrawModels, DrawsBothPriorsEquallyUntilTheDrawsAreWorthEnough) {
  const Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {}), 1);
  std::vector<WeightedModel> one;
  one.push_back(model(c, 0, 1));
  SizeDistribution out;
  const auto sets = draw_models(one, {}, out);
  ASSERT_EQ(sets.size(), 2u);
  EXPECT_EQ(count(sets[0]), count(sets[1]));
  EXPECT_EQ(sets[0].prior, "order_2");
  EXPECT_TRUE(out.converged);
  for (const auto& [name, value] : out.r_hat) EXPECT_LT(value, 1.02) << name;
  for (const auto& [name, value] : out.effective_draws) EXPECT_GT(value, 400) << name;
  EXPECT_EQ(out.ln_strength.size(), 2u);
}

TEST(DrawModels, DrawsEachModelInItsProportion) {
  const Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {}), 1);
  std::vector<WeightedModel> three;
  for (const double weight : {0.25, 0.0, 0.75}) three.push_back(model(c, weight, weight));
  SizeDistribution out;
  const auto sets = draw_models(three, {}, out);
  ASSERT_EQ(sets.size(), 4u);  // two priors of two models; one has no weight
  EXPECT_NEAR(static_cast<double>(count(sets[1])) / static_cast<double>(count(sets[0])), 3.0, 0.02);
  EXPECT_EQ(sets[1].also_fitted, 0.75);
}

}  // namespace
}  // namespace sievelight
