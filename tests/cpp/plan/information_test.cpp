// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/plan/information.hpp"

#include "distribution/synthetic.hpp"
#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

using synthetic::contrast_per_cm2;
using synthetic::ideal;
using synthetic::log_normal;
using synthetic::noisy;

NamedSample sample_14() {
  return {.family = SizeFamily::log_normal,
          .parameters = Eigen::Vector2d(14, 0.2),
          .volume = 0.1,
          .contrast_per_cm2 = contrast_per_cm2,
          .flat_level = 0.05};
}

// Against the sum over spheres of synthetic.hpp, which uses neither kernel nor grid: both to 1e-3 of the curve, what
// the six looks a bin of that sum miss.
TEST(Information, ExpectsTheCurveOfTheSpheres) {
  const Curve truth = ideal(log_normal(14, 0.2), {});
  const Eigen::VectorXd mine = expected_intensity(truth, sample_14());
  EXPECT_LT(((mine - truth.intensity).array() / truth.intensity.array()).abs().maxCoeff(), 1e-3);
}

// The bound is reached: the root mean square error of 200 simulated fits is within 10 % of it (its own sd: 5 %).
TEST(Information, ForeseesTheErrorOfTheNamedFit) {
  const Curve truth = ideal(log_normal(14, 0.2), {.bins = 60, .noise = 0.03});
  const auto expected = foresee(truth, sample_14(), false);
  double median = 0, sigma = 0, mean = 0, width = 0, volume = 0;
  constexpr int repeats = 200;
  for (unsigned seed = 1; seed <= repeats; ++seed) {
    const ParametricFit f =
        fit_parametric(noisy(truth, seed), SizeFamily::log_normal, {.contrast_per_cm2 = contrast_per_cm2});
    const auto off = [&](const Estimate& e, const char* what) {
      return std::pow((e.value - expected.at(what).value) / expected.at(what).u, 2) / repeats;
    };
    median += off(f.parameters.at("median_nm"), "median_nm");
    sigma += off(f.parameters.at("sigma"), "sigma");
    mean += off(f.mean_nm, "mean_nm");
    width += off(f.relative_width, "relative_width");
    volume += off(f.phi_one_minus_phi, "volume");
  }
  for (const double ratio : {median, sigma, mean, width, volume}) EXPECT_NEAR(std::sqrt(ratio), 1.0, 0.10);
}

// The influence carries the covariance: u^2 = sum (J u)^2 for pointwise noise.
TEST(Information, GivesTheInfluenceOfTheBestEstimate) {
  const Curve truth = ideal(log_normal(14, 0.2), {});
  for (const auto& [what, one] : foresee(truth, sample_14(), true))
    EXPECT_NEAR((one.influence.array() * truth.private_u.array()).matrix().norm() / one.u, 1.0, 1e-8) << what;
}

TEST(Information, ACoherentScaleLeavesSizesAndTakesTheVolume) {
  Curve truth = ideal(log_normal(14, 0.2), {.background = 0.0});
  NamedSample sample = sample_14();
  sample.flat_level = 0;
  const auto before = foresee(truth, sample, false);
  truth.causes["scale"] = {CauseKind::coherent, 0.03 * truth.intensity};
  const auto after = foresee(truth, sample, false);
  EXPECT_NEAR(after.at("x50_nm").u / before.at("x50_nm").u, 1.0, 0.01);
  EXPECT_NEAR(after.at("volume").u, std::hypot(before.at("volume").u, 0.03 * 0.1), 1e-5);
}

TEST(Information, NuisancesCostInformation) {
  const Curve truth = ideal(log_normal(14, 0.2), {});
  EXPECT_GT(foresee(truth, sample_14(), true).at("x50_nm").u, foresee(truth, sample_14(), false).at("x50_nm").u);
}

TEST(Information, RefusesWhatDoesNotFit) {
  const Curve truth = ideal(log_normal(14, 0.2), {});
  NamedSample three = sample_14();
  three.parameters = Eigen::Vector3d(1, 2, 3);
  EXPECT_NE(refusal<InputError>([&] { foresee(truth, three, false); }).find("has 2 parameters; 3"), std::string::npos);
  NamedSample none = sample_14();
  none.volume = 0;
  EXPECT_NE(refusal<InputError>([&] { foresee(truth, none, false); }).find("volume is 0"), std::string::npos);
  Curve bare = truth;
  bare.private_u.setZero();
  EXPECT_NE(refusal<InputError>([&] { foresee(bare, sample_14(), false); }).find("no uncertainty"), std::string::npos);
}

}  // namespace
}  // namespace sievelight
