// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/srm3600.hpp"

#include "reduce/synthetic.hpp"

namespace sievelight {
namespace {

using namespace synthetic;

// Source: NIST SRM 3600 certificate, Table 1; mid points and integral computed from it independently.
TEST(Srm3600, CarriesTheCertifiedTable) {
  const IntensityStandard& s = srm3600();
  ASSERT_EQ(s.q_per_nm.size(), 59);
  EXPECT_DOUBLE_EQ(s.q_per_nm[0], 0.0827568);
  EXPECT_DOUBLE_EQ(s.intensity_per_cm[0], 34.933380);
  EXPECT_DOUBLE_EQ(s.standard_uncertainty_per_cm[0], 0.901092);
  EXPECT_DOUBLE_EQ(s.q_per_nm[58], 2.47402);
  EXPECT_DOUBLE_EQ(s.intensity_per_cm[58], 4.463604);
  EXPECT_DOUBLE_EQ(s.standard_uncertainty_per_cm[58], 0.115137);
  EXPECT_DOUBLE_EQ(s.thickness_mm, 1.055);
  for (int i = 0; i < 59; ++i) {
    // Six digits after the point leave 1e-7/4 of relative rounding in u.
    EXPECT_NEAR(s.standard_uncertainty_per_cm[i] / s.intensity_per_cm[i], 0.025795, 1e-6);
    if (i > 0) {
      EXPECT_GT(s.q_per_nm[i], s.q_per_nm[i - 1]);
    }
  }
  EXPECT_NEAR(s.relative_u, 0.025795, 1e-6);
  double integral = 0;  // trapezoid of q^2 I, 1/(cm nm^3)
  for (int i = 1; i < 59; ++i) {
    const auto y = [&](int k) { return s.q_per_nm[k] * s.q_per_nm[k] * s.intensity_per_cm[k]; };
    integral += 0.5 * (y(i) + y(i - 1)) * (s.q_per_nm[i] - s.q_per_nm[i - 1]);
  }
  EXPECT_NEAR(integral / 1000, 0.0559397, 5e-8);  // in 1/(cm Angstrom^3), the digits given
}

TEST(Srm3600, InterpolatesBetweenCertifiedPoints) {
  const double expected[5][2] = {{0.3, 28.8000}, {0.5, 26.7917}, {1.0, 23.6816}, {1.5, 15.6975}, {2.0, 8.3745}};
  for (const auto& [q, value] : expected) EXPECT_NEAR(certified_intensity_per_cm(srm3600(), q), value, 1e-4);
}

// How far straight lines between certified points are from the curve: leave out every second point and look; a chord of
// half the length is four times closer. This is the shape tolerance of absolute_scale().
TEST(Srm3600, InterpolationIsBetterThanTheShapeTolerance) {
  const IntensityStandard& s = srm3600();
  double worst = 0;
  for (int i = 1; i + 1 < 59; i += 2) {
    const double share = (s.q_per_nm[i] - s.q_per_nm[i - 1]) / (s.q_per_nm[i + 1] - s.q_per_nm[i - 1]);
    const double line = s.intensity_per_cm[i - 1] + share * (s.intensity_per_cm[i + 1] - s.intensity_per_cm[i - 1]);
    worst = std::max(worst, std::abs(line / s.intensity_per_cm[i] - 1) / 4);
  }
  EXPECT_LT(worst, 0.003);
  RecordProperty("worst_relative", std::to_string(worst));
}

TEST(Srm3600, MeanOverABinAddsOnlyTheCurvature) {
  const IntensityStandard& s = srm3600();
  // Inside one segment the table is straight: the mean is the value at the mean q, whatever the bin.
  const double q = 0.5 * (s.q_per_nm[20] + s.q_per_nm[21]);
  EXPECT_NEAR(certified_mean_per_cm(s, q, {q - 0.005, q + 0.005}), certified_intensity_per_cm(s, q), 1e-12);
  // Over several segments: brute force with the weight q.
  const Range bin{1.2, 1.7};
  double w = 0, wq = 0, wi = 0;
  const int n = 200000;
  for (int i = 0; i < n; ++i) {
    const double x = bin.low + (i + 0.5) * (bin.high - bin.low) / n;
    w += x;
    wq += x * x;
    wi += x * certified_intensity_per_cm(s, x);
  }
  EXPECT_NEAR(certified_mean_per_cm(s, wq / w, bin), wi / w, 1e-8);
}

TEST(Srm3600, NeverExtrapolates) {
  EXPECT_HOLDS(message<InputError>([] { certified_intensity_per_cm(srm3600(), 0.08); }), "outside the certified range");
  EXPECT_HOLDS(message<InputError>([] { certified_mean_per_cm(srm3600(), 2.47, {2.4, 2.5}); }), "0.0827568 to 2.47402");
}

}  // namespace
}  // namespace sievelight
