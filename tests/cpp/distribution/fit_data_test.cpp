// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/fit_data.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include "distribution/synthetic.hpp"

namespace sievelight {
namespace {

Curve sample() { return synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {}), 1); }

TEST(FitData, LeavesOutPointsThatCannotBeFittedAndSaysSo) {
  Curve c = sample();
  c.private_u[5] = 0;
  const UsablePoints points = usable_points(c, Range{0.1, 1.5});
  for (const Eigen::Index i : points.index) {
    EXPECT_NE(i, 5);
    EXPECT_GE(c.q_per_nm[i], 0.1);
    EXPECT_LE(c.q_per_nm[i], 1.5);
  }
  const UsablePoints all = usable_points(c, std::nullopt);
  EXPECT_EQ(all.curve.size(), c.size() - 1);
  ASSERT_EQ(all.warnings.size(), 1u);
  EXPECT_EQ(all.warnings[0], "1 points have no uncertainty and were left out.");
  EXPECT_EQ(all.curve.q_low_per_nm.size(), all.curve.size());
}

TEST(FitData, RefusesACurveWithoutUncertainties) {
  Curve c = sample();
  c.private_u.setZero();
  try {
    usable_points(c, std::nullopt);
    FAIL() << "accepted";
  } catch (const InputError& e) {
    EXPECT_NE(std::string(e.what()).find("120 without an uncertainty"), std::string::npos);
    EXPECT_NE(e.mend().find("standard uncertainty"), std::string::npos);
  }
  EXPECT_THROW(usable_points(sample(), Range{0.1, 0.11}), InputError);
}

TEST(FitData, RefusesAKernelOfOtherPoints) {
  const Curve c = sample();
  const Kernel kernel = make_kernel(c, make_grid(0.08, 1.7));
  Curve other = c;
  other.q_per_nm *= 1.01;
  EXPECT_THROW(make_fit_data(other, kernel, 0, false, true), InputError);
}

TEST(FitData, FindsNothingInAFlatCurve) {
  Curve c = sample();
  c.intensity.setConstant(0.3);
  c.private_u.setConstant(0.01);
  // The flat level takes all of it; a last speck may remain and is then no error here.
  const Kernel kernel = make_kernel(c, make_grid(0.08, 1.7));
  try {
    const FitData data = make_fit_data(c, kernel, 0, false, true);
    EXPECT_LT((data.columns * data.start.x).cwiseAbs().maxCoeff(), 0.01);
  } catch (const NumericalError& e) {
    EXPECT_NE(std::string(e.what()).find("no scattering above the background"), std::string::npos);
  }
}

TEST(FitData, TheFirstFitDescribesTheCurve) {
  const Curve c = sample();
  const Kernel kernel = make_kernel(c, make_grid(0.08, 1.7));
  for (const bool integrated : {true, false}) {
    const FitData data = make_fit_data(c, kernel, synthetic::contrast_per_cm2, true, integrated);
    EXPECT_EQ(data.columns.cols(), data.nodes + (integrated ? 0 : 1));
    EXPECT_EQ(data.noise.shared().cols(), integrated ? 2 : 1);
    const Eigen::VectorXd model = data.columns * data.start.x;
    const double chi2 = data.noise.whiten(c.intensity - model).squaredNorm();
    EXPECT_NEAR(chi2 / static_cast<double>(c.size()), 1.0, 5 * std::sqrt(2.0 / 120));
  }
  const FitData data = make_fit_data(c, kernel, synthetic::contrast_per_cm2, false, true);
  const FitData wide = widen(data, 2.0);
  EXPECT_NEAR((wide.noise.u().array() / data.noise.u().array()).mean(), 2.0, 1e-12);
  EXPECT_EQ(wide.given_u, data.given_u);
}

}  // namespace
}  // namespace sievelight
