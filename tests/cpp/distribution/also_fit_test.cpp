// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/also_fit.hpp"

#include "distribution/synthetic.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/distribution/invert.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

struct Moments {
  double mean = 0, sd = 0, sum = 0;
};
Moments moments(const std::vector<WeightedModel>& models, std::size_t prior) {
  Moments out;
  for (const auto& m : models) {
    out.sum += m.weight[prior];
    out.mean += m.weight[prior] * m.value;
  }
  for (const auto& m : models) out.sd += m.weight[prior] * std::pow(m.value - out.mean, 2);
  out.sd = std::sqrt(out.sd);
  return out;
}

std::vector<WeightedModel> normal_posterior(double mean, double sd, double other_mean, int* asked = nullptr) {
  return weigh_models({0, 0.5}, [=](double value) {
    if (asked != nullptr) ++*asked;
    ModelFit fit;
    fit.ln_evidence = {-0.5 * std::pow((value - mean) / sd, 2) + 1e4, -0.5 * std::pow((value - other_mean) / sd, 2)};
    return fit;
  });
}

// A normal posterior seen through values about one standard deviation apart has its moments to a few percent.
TEST(AlsoFit, NarrowsTheGridUntilItCarriesThePosterior) {
  int asked = 0;
  const auto models = normal_posterior(0.237, 0.002, 0.237, &asked);
  const Moments m = moments(models, 0);
  EXPECT_NEAR(m.sum, 1, 1e-12);
  EXPECT_NEAR(m.mean, 0.237, 0.1 * 0.002);
  EXPECT_NEAR(m.sd, 0.002, 0.1 * 0.002);
  EXPECT_LT(asked, 40);
}

TEST(AlsoFit, KeepsEachPriorsOwnPosterior) {
  const auto models = normal_posterior(0.20, 0.01, 0.22);
  EXPECT_NEAR(moments(models, 0).mean, 0.20, 0.002);
  EXPECT_NEAR(moments(models, 1).mean, 0.22, 0.002);
}

TEST(AlsoFit, LeavesEverythingOpenWhereTheDataSayNothing) {
  const Moments m = moments(normal_posterior(0.25, 100, 0.25), 0);
  EXPECT_NEAR(m.mean, 0.25, 1e-3);
  EXPECT_NEAR(m.sd, 0.5 / std::sqrt(12.0), 0.02);
}

TEST(AlsoFit, MayEndAtTheEdge) {
  // Half a normal: mean sqrt(2/pi) sd. The last value stands for its whole cell, hence a third of a step.
  const Moments m = moments(normal_posterior(0.0, 0.01, 0.0), 0);
  EXPECT_NEAR(m.mean, std::sqrt(2 / pi) * 0.01, 0.35 * 0.01);
}

// Interference of known strength put in through the kernel and asked back. The band is one at 95 %; 4 u never fails.
TEST(AlsoFit, FindsTheHardSpheresThatWerePutIn) {
  Curve c = synthetic::ideal(synthetic::log_normal(14, 0.12), {.background = 0});
  InvertOptions options;
  options.contrast_per_cm2 = synthetic::contrast_per_cm2;
  options.kernel.interaction = HardSpheres{0.22, 1.0};
  options.also_fit = AlsoFit::hard_sphere_fraction;
  options.draws = 1200;
  const Kernel truth = make_kernel(c, options);
  Eigen::VectorXd x(truth.grid.size());
  for (Eigen::Index j = 0; j < x.size(); ++j) x[j] = 0.22 * synthetic::log_normal(14, 0.12)(truth.grid.diameter_nm[j]);
  c.intensity = scattering_per_cm(truth, x, options.contrast_per_cm2).array() + 0.05;
  c.private_u = 0.02 * c.intensity;
  c = synthetic::noisy(c, 5);
  InvertOptions wrong = options;
  wrong.kernel.interaction->volume_fraction = 0.4;  // not used
  const SizeDistribution d = invert(c, wrong);
  const Estimate e = d.also_fitted.at("hard_sphere_fraction");
  EXPECT_NEAR(e.value, 0.22, 4 * e.u);
  EXPECT_LT(e.u, 0.02);
  EXPECT_NEAR(d.x50_nm.value, 14, 4 * d.x50_nm.u);
  EXPECT_NEAR(d.volume_fraction.value, 0.22, 4 * d.volume_fraction.u);
  EXPECT_EQ(d.influence.at("hard_sphere_fraction").size(), c.size());
  EXPECT_TRUE(d.converged);
  // What the fraction leaves open widens the sizes: never narrower than with the fraction known.
  options.also_fit = AlsoFit::nothing;
  EXPECT_GT(d.x50_nm.u, 0.8 * invert(c, options).x50_nm.u);
}

TEST(AlsoFit, FindsTheExponentOfRoughGrains) {
  Curve c = synthetic::ideal(synthetic::log_normal(10, 0.2), {.background = 0.02});
  const double k = 0.002 * c.intensity[0] / std::pow(c.q_per_nm[0], -3.4) * 500;
  for (Eigen::Index i = 0; i < c.size(); ++i) c.intensity[i] += k * std::pow(c.q_per_nm[i], -3.4);
  c.private_u = 0.01 * c.intensity;
  c = synthetic::noisy(c, 6);
  InvertOptions options;
  options.contrast_per_cm2 = synthetic::contrast_per_cm2;
  options.power_law = true;
  options.also_fit = AlsoFit::power_exponent;
  options.draws = 1200;
  const SizeDistribution d = invert(c, options);
  const Estimate e = d.also_fitted.at("power_exponent");
  EXPECT_NEAR(e.value, 3.4, 4 * e.u);
  EXPECT_LT(e.u, 0.15);
  EXPECT_EQ(d.power_exponent, e.value);
  EXPECT_NEAR(d.x50_nm.value, 10, 4 * d.x50_nm.u);
}

TEST(AlsoFit, RefusesWhatIsNotInTheModel) {
  const Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {}), 1);
  InvertOptions options;
  options.also_fit = AlsoFit::hard_sphere_fraction;
  EXPECT_THROW(invert(c, options), InputError);
  options.also_fit = AlsoFit::power_exponent;
  EXPECT_THROW(invert(c, options), InputError);
  options.power_law = true;
  options.method = InversionMethod::evidence;
  EXPECT_THROW(invert(c, options), InputError);
  EXPECT_STREQ(name(AlsoFit::nothing), "nothing");
}

}  // namespace
}  // namespace sievelight
