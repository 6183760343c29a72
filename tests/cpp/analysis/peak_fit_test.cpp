// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/peak_fit.hpp"

#include "analysis/synthetic.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace sievelight {
namespace {

using Eigen::ArrayXd;
using namespace synthetic;

struct Truth {
  ArrayXd q = ArrayXd::LinSpaced(80, 0.6, 1.4);
  std::vector<PeakStart> peaks{{0.9, 0.08, 4.0}, {1.04, 0.08, 2.0}};
  double eta = 0.0;
  ArrayXd intensity() const {
    ArrayXd out = 3.0 * q.pow(-3.2);
    for (const PeakStart& p : peaks) out += p.height * peak_shape((q - p.q_per_nm) / p.fwhm_per_nm, eta);
    return out;
  }
};
const std::vector<PeakStart> rough{{0.91, 0.06, 3.0}, {1.03, 0.1, 3.0}};

// The background of this truth is a power law, which exp of a parabola in ln q holds; the peaks' tails among the points
// that shape it leave 2e-4 of a width in the position, a Lorentzian's 1e-3.
TEST(PeakFit, RecoversItsOwnModel) {
  for (const auto& [eta, profile] :
       {std::pair{0.0, PeakProfile::gaussian}, {1.0, PeakProfile::lorentzian}, {0.4, PeakProfile::pseudo_voigt}}) {
    Truth truth;
    truth.eta = eta;
    const ArrayXd y = truth.intensity();
    const PeakGroup fit = fit_peak_group(truth.q, y, (1e-3 * y).square(), rough, profile);
    ASSERT_TRUE(fit.settled) << name(profile);
    EXPECT_NEAR(fit.eta, eta, 0.02);
    for (std::size_t k = 0; k < 2; ++k) {
      // The tails of a Lorentzian reach into the points that shape the background: 2 % of height and width there.
      const double loose = eta > 0.0 ? 0.02 : 1e-3;
      EXPECT_NEAR(fit.peaks[k].q_per_nm, truth.peaks[k].q_per_nm, 0.08 * (eta > 0.0 ? 1e-3 : 2e-4));
      EXPECT_NEAR(fit.peaks[k].fwhm_per_nm / truth.peaks[k].fwhm_per_nm, 1.0, loose);
      EXPECT_NEAR(fit.peaks[k].height / truth.peaks[k].height, 1.0, loose);
    }
  }
}

TEST(PeakFit, ChoosesTheProfileByTheData) {
  std::mt19937_64 random(4);
  std::normal_distribution<double> normal;
  for (const auto& [eta, profile] : {std::pair{0.0, PeakProfile::gaussian}, {1.0, PeakProfile::lorentzian}}) {
    Truth truth;
    truth.eta = eta;
    int right = 0;
    for (int k = 0; k < 40; ++k) {
      ArrayXd y = truth.intensity();
      const ArrayXd variance = (0.01 * y).square();
      y += variance.sqrt() * ArrayXd::NullaryExpr(y.size(), [&] { return normal(random); });
      right += fit_peak_group(truth.q, y, variance, rough, PeakProfile::automatic).profile == profile;
    }
    // BIC pays ln 80 = 4.4 for the share of a mixture: chance beats that in 3.6 % (chi2 of 1), and in the other
    // direction the difference of these two is tens of chi2.
    EXPECT_GE(right, 34) << name(profile);
  }
}

TEST(PeakFit, KnowsTheInfluenceOfEveryPoint) {
  const Truth truth;
  const ArrayXd y = truth.intensity(), variance = (0.01 * y).square();
  const PeakGroup fit = fit_peak_group(truth.q, y, variance, rough, PeakProfile::gaussian);
  for (Eigen::Index i : {20, 30, 33, 44, 60}) {
    ArrayXd moved = y;
    moved[i] += 0.01 * y[i];
    const PeakGroup again = fit_peak_group(truth.q, moved, variance, rough, PeakProfile::gaussian);
    // Gauss-Newton, and the shape of the background moves a little with the points: 10 % of one sd of the result.
    const Eigen::VectorXd u = (fit.influence.cwiseAbs2() * variance.matrix()).cwiseSqrt();
    for (int k = 0; k < 2; ++k) {
      const double step = 0.01 * y[i];
      EXPECT_NEAR(again.peaks[k].q_per_nm - fit.peaks[k].q_per_nm, fit.influence(3 * k, i) * step, 0.1 * u[3 * k]);
      EXPECT_NEAR(again.peaks[k].height - fit.peaks[k].height, fit.influence(3 * k + 2, i) * step, 0.1 * u[3 * k + 2]);
    }
  }
}

TEST(PeakFit, SaysWhenThereIsNoPeakToFit) {
  const ArrayXd q = ArrayXd::LinSpaced(60, 0.6, 1.4), y = 3.0 * q.pow(-3);
  ArrayXd dip = y - peak_shape((q - 1.0) / 0.1, 0.0);
  EXPECT_FALSE(fit_peak_group(q, dip, (0.01 * y).square(), {{1.0, 0.1, 1.0}}, PeakProfile::gaussian).settled);
  // More numbers than points.
  EXPECT_FALSE(fit_peak_group(q.head(4), y.head(4), y.head(4), {{0.62, 0.02, 1.0}}, PeakProfile::gaussian).settled);
}

}  // namespace
}  // namespace sievelight
