// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/quick_methods.hpp"

#include "distribution/synthetic.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/distribution/invert.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <map>

namespace sievelight {
namespace {

// 3 % noise: the median within 3 %, and the result's own words on its bands.
TEST(QuickMethods, FindALogNormalAndWarnOfThemselves) {
  const Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {.noise = 0.03}), 1);
  for (const InversionMethod method : {InversionMethod::evidence, InversionMethod::cross_validation,
                                       InversionMethod::l_curve, InversionMethod::maximum_entropy}) {
    InvertOptions options;
    options.contrast_per_cm2 = synthetic::contrast_per_cm2;
    options.method = method;
    const SizeDistribution d = invert(c, options);
    EXPECT_EQ(d.method, name(method));
    EXPECT_NEAR(d.x50_nm.value, 14, 0.03 * 14) << d.method;
    // Under-smoothed fits trade the smallest sizes for background: their own u, or 2 % of the smooth ones.
    EXPECT_NEAR(d.phi_one_minus_phi.value, 0.1, std::max(4 * d.phi_one_minus_phi.u, 0.002)) << d.method;
    EXPECT_NE(std::find(d.warnings.begin(), d.warnings.end(), caveat(method)), d.warnings.end()) << d.method;
    EXPECT_TRUE(d.ln_strength.contains(d.method));
  }
  EXPECT_THROW(quick_fit(InversionMethod::sampled, {}, 0), InputError);
}

// G. Golub, M. Heath, G. Wahba 1979: for noise of known size the strength of cross-validation gives a chi^2 near that
// of the truth; the L-curve's corner, which knows no noise, smooths no less than a tenth of it here.
TEST(QuickMethods, ChooseStrengthsOfTheirOwn) {
  const Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.3), {.noise = 0.05}), 3);
  InvertOptions options;
  std::map<std::string, double> chi2;
  for (const InversionMethod method :
       {InversionMethod::evidence, InversionMethod::cross_validation, InversionMethod::l_curve}) {
    options.method = method;
    chi2[name(method)] = invert(c, options).chi2_per_point;
  }
  // 120 points, some 10 parameters: 0.92 +- 0.13.
  EXPECT_NEAR(chi2.at("evidence"), 0.92, 4 * 0.13);
  EXPECT_NEAR(chi2.at("cross_validation"), 0.92, 4 * 0.13);
}

}  // namespace
}  // namespace sievelight
