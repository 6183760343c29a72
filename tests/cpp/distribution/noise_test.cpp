// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/noise.hpp"

#include <gtest/gtest.h>
#include <Eigen/Dense>

#include "distribution/synthetic.hpp"

namespace sievelight {
namespace {

struct Problem {
  Eigen::VectorXd u = Eigen::VectorXd::LinSpaced(9, 0.5, 2.0);
  Eigen::MatrixXd shared = Eigen::MatrixXd::NullaryExpr(
      9, 2, [](Eigen::Index i, Eigen::Index j) { return j == 0 ? 3.0 + static_cast<double>(i) : 50.0; });
  Eigen::MatrixXd sigma() const {
    return Eigen::MatrixXd(u.array().square().matrix().asDiagonal()) + shared * shared.transpose();
  }
};

TEST(Noise, WhitensItsOwnCovariance) {
  const Problem p;
  const Noise noise(p.u, p.shared);
  const Eigen::MatrixXd one = Eigen::MatrixXd::Identity(9, 9);
  const Eigen::MatrixXd inverse = noise.whiten_back(noise.whiten(one));
  EXPECT_LT((inverse * p.sigma() - one).norm(), 1e-9);
}

// z ~ N(0, 1), r = S z + noise: E z = S^T Sigma^-1 r, Cov z = 1 - S^T Sigma^-1 S (normal regression, textbook).
TEST(Noise, FindsTheAmplitudesOfItsCauses) {
  const Problem p;
  const Noise noise(p.u, p.shared);
  const Eigen::VectorXd r = Eigen::VectorXd::LinSpaced(9, -4, 7);
  const Eigen::MatrixXd inverse = p.sigma().inverse();
  EXPECT_LT((noise.amplitudes(r) - p.shared.transpose() * inverse * r).norm(), 1e-9);
  const Eigen::MatrixXd covariance = Eigen::MatrixXd::Identity(2, 2) - p.shared.transpose() * inverse * p.shared;
  EXPECT_LT((noise.amplitude_root() * noise.amplitude_root().transpose() - covariance).norm(), 1e-9);
}

TEST(Noise, WithoutSharedCausesDividesByU) {
  const Problem p;
  const Noise noise(p.u, Eigen::MatrixXd(9, 0));
  EXPECT_EQ(noise.whiten(p.u).col(0), Eigen::VectorXd::Ones(9));
}

// Source: R. W. Peelle's puzzle (1987; numbers as quoted in the literature, from memory): 1.5 and 1.0, each 10 %
// independent, with a common 20 %, average to 0.88 +- 0.22, below both. Our covariance must reproduce the puzzle when
// it is built from the data, or the test below would prove nothing.
TEST(Noise, ReproducesPeellesPuzzleWhenBuiltFromTheData) {
  const Eigen::Vector2d data(1.5, 1.0);
  const Noise noise(0.1 * data, 0.2 * data);
  const Eigen::Vector2d ones(1, 1);
  const Eigen::VectorXd a = noise.whiten(ones), b = noise.whiten(data);
  EXPECT_NEAR(a.dot(b) / a.squaredNorm(), 0.88, 0.005);
  EXPECT_NEAR(1 / a.norm(), 0.22, 0.005);
}

TEST(Noise, SetsAScaleErrorAside) {
  const Curve truth = synthetic::ideal(synthetic::log_normal(14, 0.2), {.noise = 0.05});
  Curve c = synthetic::noisy(truth, 3);
  c.causes["scale"] = {CauseKind::coherent, 0.03 * c.intensity};
  c.causes["thickness"] = {CauseKind::coherent, -0.04 * c.intensity};
  const CoherentCauses smooth = smooth_coherent(c, truth.intensity);
  EXPECT_TRUE(smooth.ids.empty());
  EXPECT_EQ(smooth.u.cols(), 0);
  // Two independent scales of 3 and 4 %: 5 %; a mean over 120 points of 5 % noise is known to 0.5 % of itself.
  EXPECT_NEAR(smooth.relative_scale, 0.05, 3 * 0.005 * 0.05);
}

// d ln I / d ln q is no scale: an error of q stays a direction, rebuilt without the data's noise.
TEST(Noise, RebuildsAQErrorOnTheFittedCurve) {
  const Curve truth = synthetic::ideal(synthetic::log_normal(14, 0.2), {.noise = 0.05});
  Curve c = synthetic::noisy(truth, 3);
  const Eigen::ArrayXd slope = -2 * c.q_per_nm.array() / (1 + c.q_per_nm.array());  // any smooth relative slope
  c.causes["q"] = {CauseKind::coherent, 0.05 * slope * c.intensity.array()};
  const CoherentCauses smooth = smooth_coherent(c, truth.intensity);
  ASSERT_EQ(smooth.ids, std::vector<std::string>{"q"});
  EXPECT_EQ(smooth.relative_scale, 0);
  const Eigen::ArrayXd wanted = 0.05 * slope * truth.intensity.array();
  const auto off = [&](const Eigen::VectorXd& u) {
    return ((u.array() - wanted) / c.private_u.array()).matrix().norm();
  };
  EXPECT_LT(off(smooth.u.col(0)), 0.6 * off(c.causes.at("q").u));
}

TEST(Noise, KeepsACauseThatNoSmoothCurveDescribes) {
  Curve c = synthetic::ideal(synthetic::log_normal(14, 0.2), {.noise = 0.01});
  Eigen::VectorXd u = Eigen::VectorXd::Zero(c.size());
  for (Eigen::Index i = 0; i < u.size(); i += 2) u[i] = 0.5 * c.intensity[i];  // every other point
  c.causes["odd"] = {CauseKind::coherent, u};
  EXPECT_EQ(smooth_coherent(c, c.intensity).u.col(0), u);
}

TEST(Noise, LeavesSmoothCausesInPlace) {
  Curve c = synthetic::ideal(synthetic::log_normal(14, 0.2), {.noise = 0.02});
  Eigen::VectorXd u = Eigen::VectorXd::Constant(c.size(), 0.01);  // a background's scale
  c.causes["background"] = {CauseKind::coherent, u};
  c.causes["none"] = {CauseKind::coherent, 0 * u};
  c.causes["counts"] = {CauseKind::pointwise, u};
  const CoherentCauses out = smooth_coherent(c, c.intensity);
  ASSERT_EQ(out.ids, std::vector<std::string>{"background"});
  // Within a hundredth of the noise at every point, which is all that a fit can tell.
  EXPECT_LT(((out.u.col(0) - u).array() / c.private_u.array()).abs().maxCoeff(), 1e-2);
}

}  // namespace
}  // namespace sievelight
