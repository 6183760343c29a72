// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/sample.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/distribution/diagnose.hpp"
#include "sievelight/distribution/smoothness.hpp"

#include <gtest/gtest.h>

#include "distribution/synthetic.hpp"

namespace sievelight {
namespace {

struct Ready {
  LogDensity problem;
  Range range;
  std::vector<MostProbable> path;
};

Ready ready(int order, bool data) {
  const Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {}), 1);
  const SizeGrid grid = make_grid(0.08, 1.7);
  const FitData fit = make_fit_data(c, make_kernel(c, grid), synthetic::contrast_per_cm2, false, true);
  Ready out{make_log_density(fit, order), ln_strength_range(grid.step, order), {}};
  if (!data) {
    out.problem.m.setZero();
    out.problem.y.setZero();
    out.problem.mt.setZero();
    out.problem.gram.setZero();
  }
  out.path = most_probable_path(out.problem, out.range, 25, Eigen::VectorXd::Constant(grid.size(), -3));
  return out;
}

void run(Sampler& sampler, int draws, bool backwards = false) {
  for (std::size_t k = 0; k < sampler.count(); ++k) sampler.warm_up(backwards ? sampler.count() - 1 - k : k);
  sampler.adapt();
  for (std::size_t k = 0; k < sampler.count(); ++k) sampler.advance(backwards ? sampler.count() - 1 - k : k, draws);
}

// Without data the posterior is the prior, in closed form: the strength is uniform in its logarithm, and for order 2
// the two end nodes, which the curvature does not bind, are independent N(-3, 4^2). This exercises every move of the
// sampler.
TEST(Sampler, DrawsThePriorWhenThereAreNoData) {
  const Ready r = ready(2, false);
  Sampler sampler(r.problem, r.range, r.path, {});
  run(sampler, 4000);
  std::vector<Eigen::VectorXd> low, high, strength;
  for (const Chain& chain : sampler.chains()) {
    low.emplace_back(chain.x.row(0).array().log().transpose());
    high.emplace_back(chain.x.bottomRows(1).array().log().transpose());
    strength.push_back(chain.ln_strength);
  }
  const auto check = [](const std::vector<Eigen::VectorXd>& chains, double mean, double sd) {
    const double draws = effective_draws(chains);
    EXPECT_GT(draws, 300);
    EXPECT_LT(split_r_hat(chains), 1.05);
    double sum = 0, square = 0, n = 0;
    for (const auto& chain : chains) {
      sum += chain.sum();
      square += (chain.array() - mean).square().sum();
      n += static_cast<double>(chain.size());
    }
    // Four standard errors of a mean and of a standard deviation from that many draws.
    EXPECT_NEAR(sum / n, mean, 4 * sd / std::sqrt(draws));
    EXPECT_NEAR(std::sqrt(square / n) / sd, 1.0, 4 / std::sqrt(draws));
  };
  check(low, -3, 4);
  check(high, -3, 4);
  check(strength, 0.5 * (r.range.low + r.range.high), (r.range.high - r.range.low) / std::sqrt(12.0));
}

TEST(Sampler, DoesNotDependOnTheOrderOfItsChains) {
  const Ready r = ready(3, true);
  Sampler forth(r.problem, r.range, r.path, {.warm_up = 40}), back(r.problem, r.range, r.path, {.warm_up = 40});
  run(forth, 30);
  run(back, 30, true);
  for (std::size_t k = 0; k < forth.count(); ++k) EXPECT_EQ(forth.chains()[k].x, back.chains()[k].x);
  Sampler other(r.problem, r.range, r.path, {.warm_up = 40, .seed = 2});
  run(other, 30);
  EXPECT_NE(forth.chains()[0].x, other.chains()[0].x);
  forth.advance(0, 20);
  EXPECT_EQ(forth.chains()[0].x.cols(), 50);
}

TEST(Sampler, MovesFreelyOnData) {
  for (const int order : {2, 3}) {
    const Ready r = ready(order, true);
    Sampler sampler(r.problem, r.range, r.path, {});
    run(sampler, 500);
    std::vector<Eigen::VectorXd> middle;
    for (const Chain& chain : sampler.chains()) {
      EXPECT_GT(chain.acceptance, 0.5);
      EXPECT_GT(chain.strength_acceptance, 0.1);
      middle.emplace_back(chain.x.row(chain.x.rows() / 2).transpose());
    }
    EXPECT_LT(split_r_hat(middle), 1.05);
    EXPECT_GT(effective_draws(middle), 200);
  }
}

TEST(Sampler, RefusesToRunWithoutAPath) {
  const Ready r = ready(2, true);
  EXPECT_THROW(Sampler(r.problem, r.range, {}, {}), InputError);
}

}  // namespace
}  // namespace sievelight
