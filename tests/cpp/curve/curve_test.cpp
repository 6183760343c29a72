// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/curve.hpp"

#include "curve/some_curves.hpp"
#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <limits>

namespace sievelight {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

void expect_refused(const Curve& curve, const std::string& words) {
  try {
    check(curve);
    FAIL() << "accepted, but should say: " << words;
  } catch (const InputError& error) {
    EXPECT_NE(std::string(error.what()).find(words), std::string::npos) << error.what();
    EXPECT_FALSE(error.mend().empty());
  }
}

TEST(Curve, AddsItsCausesInQuadrature) {
  const Curve curve = some_curve();
  const VectorXd pointwise = (curve.private_u.array().square() + curve.causes.at("blank counts").u.array().square());
  EXPECT_TRUE(pointwise_u(curve).array().square().matrix().isApprox(pointwise, 1e-14));
  EXPECT_TRUE(total_u(curve).array().square().matrix().isApprox(covariance(curve).diagonal(), 1e-14));
}

// Brute force: every cause is drawn once by its id, as the model in curve.hpp says, and the sample covariance of many
// draws must be the one that is computed. The sampling error of an element is sqrt((C_ii C_jj + C_ij^2) / draws)
// (Anderson, An Introduction to Multivariate Statistical Analysis, 3.2); 5 of them bound some 200 elements.
TEST(Curve, HasTheCovarianceOfItsDrawnCauses) {
  const Curve a = some_curve(), b = another_curve();
  const auto draws = draw_curves({a, b}, 40000);
  const Eigen::Index n = a.size();
  MatrixXd expected(2 * n, 2 * n);
  expected << covariance(a), covariance(a, b), covariance(b, a), covariance(b);
  const MatrixXd centred = draws.rowwise() - draws.colwise().mean();
  const MatrixXd found = centred.transpose() * centred / static_cast<double>(draws.rows() - 1);
  for (Eigen::Index i = 0; i < 2 * n; ++i)
    for (Eigen::Index j = 0; j < 2 * n; ++j) {
      const double sd = std::sqrt((expected(i, i) * expected(j, j) + expected(i, j) * expected(i, j)) /
                                  static_cast<double>(draws.rows()));
      EXPECT_NEAR(found(i, j), expected(i, j), 5 * sd) << i << ", " << j;
    }
}

TEST(Curve, SharesNothingWithACurveOfOtherIds) {
  Curve other = some_curve();
  other.causes.clear();
  EXPECT_TRUE(covariance(some_curve(), other).isZero(0));
}

TEST(Curve, RefusesWhatIsNoCurve) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_NO_THROW(check(some_curve()));
  Curve bad = some_curve();
  bad.intensity.conservativeResize(3);
  expect_refused(bad, "the intensity has 3 points but q has");
  bad = some_curve();
  bad.q_per_nm[2] = bad.q_per_nm[1];
  expect_refused(bad, "q does not rise: point 2");
  bad = some_curve();
  bad.q_per_nm[0] = 0;
  expect_refused(bad, "q is 0 at point 0");
  bad = some_curve();
  bad.intensity[1] = nan;
  expect_refused(bad, "the intensity is nan");
  bad = some_curve();
  bad.private_u[1] = -1;
  expect_refused(bad, "the uncertainty is -1");
  bad = some_curve();
  bad.causes.at("transmission").u[1] = nan;
  expect_refused(bad, "the cause 'transmission' is nan");
  bad = some_curve();
  bad.causes.at("transmission").u.conservativeResize(2);
  expect_refused(bad, "the cause 'transmission' has 2 points");
  bad = some_curve();
  bad.q_low_per_nm[1] = bad.q_per_nm[1] * 1.01;
  expect_refused(bad, "lies outside its bin");
  bad = some_curve();
  bad.q_high_per_nm.resize(0);
  expect_refused(bad, "lower and 0 upper bin edges");
}

// Squares and fourth powers of these leave the range of doubles; what follows would be infinite without a word.
TEST(Curve, RefusesNumbersWhosePowersAreNone) {
  Curve curve = some_curve();
  curve.intensity[2] = 1e151;
  expect_refused(curve, "the intensity is 1e+151");
  curve = some_curve();
  curve.private_u[2] = 1e151;
  expect_refused(curve, "with the uncertainty 1e+151");
  curve = some_curve();
  curve.causes.at("transmission").u[0] = -1e151;
  expect_refused(curve, "the cause 'transmission' is -1e+151");
  curve = some_curve();
  curve.q_per_nm *= 1e61;
  expect_refused(curve, "e+60 1/nm at point 0");
  curve = some_curve();
  curve.intensity *= 1e140;
  curve.private_u *= 1e140;
  for (auto& [id, cause] : curve.causes) cause.u *= 1e140;
  check(curve);
  EXPECT_TRUE(covariance(curve).allFinite());
}

TEST(Curve, RefusesASharedPointwiseCauseOnOtherBins) {
  Curve other = some_curve();
  for (VectorXd* v : {&other.q_per_nm, &other.q_low_per_nm, &other.q_high_per_nm}) *v *= 1.001;
  EXPECT_THROW(covariance(some_curve(), other), InputError);
  // One bin fewer must be refused too, and not read beyond the end.
  other = some_curve();
  for (VectorXd* v : {&other.q_per_nm, &other.intensity, &other.private_u}) v->conservativeResize(other.size() - 1);
  for (auto& [id, cause] : other.causes) cause.u.conservativeResize(cause.u.size() - 1);
  EXPECT_THROW(covariance(some_curve(), other), InputError);
}

TEST(Curve, RefusesACauseOfTwoKinds) {
  Curve other = some_curve();
  other.causes.at("transmission").kind = CauseKind::pointwise;
  EXPECT_THROW(covariance(some_curve(), other), InputError);
}

TEST(Curve, ASlitHasLengthAndWidth) {
  Curve curve = some_curve();
  EXPECT_FALSE(curve.has_slit());
  curve.slit_length_per_nm = Eigen::VectorXd::Ones(7);
  EXPECT_THROW(check(curve), InputError);
  curve.slit_width_per_nm = Eigen::VectorXd::Zero(7);
  EXPECT_NO_THROW(check(curve));
  EXPECT_TRUE(curve.has_slit());
  curve.slit_length_per_nm[3] = -1;
  EXPECT_THROW(check(curve), InputError);
  curve.slit_length_per_nm = Eigen::VectorXd::Ones(6);
  EXPECT_THROW(check(curve), InputError);
}

}  // namespace
}  // namespace sievelight
