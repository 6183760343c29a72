// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/anisotropy.hpp"

#include "analysis/profiles.hpp"
#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

namespace sievelight {
namespace {

using namespace synthetic;

std::function<double(double)> wave(double a, double director_deg) {
  return [=](double chi) { return 1 + a * std::cos(2 * (chi - radians(director_deg))); };
}

// Closed form: I = 1 + a cos 2(chi - chi0) has A = a/2 and the director chi0; coarse bins are allowed for exactly
// (twenty points a bin make the profile: 1e-3 of the bin's sag).
TEST(Anisotropy, OfACosine) {
  for (const int bins : {12, 36, 180})
    for (const double a : {0.1, 0.5, 1.0})
      for (const double director : {0.0, 41.0, 135.5}) {
        const Anisotropy r = anisotropy(profile(bins, 1e7, wave(a, director)));
        EXPECT_NEAR(r.amplitude_measured, a / 2, 2e-4 * a);
        EXPECT_NEAR(std::sin(2 * radians(r.director_deg - director)), 0.0, 1e-6);
        EXPECT_NEAR(r.covered_share, 1.0, 1e-12);
        EXPECT_LT(r.isotropic_probability, 1e-6);
      }
}

// Closed form: cos^2n(chi) has the second Fourier coefficient A = n/(n + 1) (ratio of central binomials). The harmonics
// fitted do not follow it, and for a whole circle they need not.
TEST(Anisotropy, OfSharpPatternsIsTheFourierCoefficient) {
  for (const int n : {1, 3, 10}) {
    const Anisotropy r = anisotropy(profile(180, 1e6, [&](double chi) { return std::pow(std::cos(chi), 2 * n); }));
    EXPECT_NEAR(r.amplitude_measured, n / (n + 1.0), 1e-5);
    ASSERT_TRUE(r.order_parameter);
    EXPECT_NEAR(r.order_parameter->value, 2.0 * n / (2 * n + 3), 1e-3 * n);
  }
}

TEST(Anisotropy, GapsDoNotTurnTheResult) {
  const auto whole =
      profile(120, 1e6, [](double chi) { return 1 + 0.4 * std::cos(2 * chi - 1) + 0.1 * std::cos(4 * chi); });
  const Anisotropy a = anisotropy(whole);
  // A beamstop's arm and a corner of the detector.
  const auto seen = part(whole, [](double deg) { return !(deg > 80 && deg < 100) && !(deg > 200 && deg < 290); });
  const Anisotropy b = anisotropy(seen);
  EXPECT_NEAR(b.amplitude_measured, a.amplitude_measured, 1e-4);
  EXPECT_NEAR(b.director_deg, a.director_deg, 1e-2);
  EXPECT_NEAR(b.covered_share, 83.0 / 120, 0.02);
  EXPECT_GT(b.amplitude.u, a.amplitude.u);
  // Plain sums over what is there would be far off.
  double c = 0, s = 0;
  for (Eigen::Index i = 0; i < seen.intensity.size(); ++i) {
    c += seen.intensity[i] * std::cos(2 * radians(seen.azimuth_deg[i]));
    s += seen.intensity[i] * std::sin(2 * radians(seen.azimuth_deg[i]));
  }
  EXPECT_GT(std::abs(std::hypot(c, s) / seen.intensity.sum() - 0.2), 0.05);
}

// Counting, 1000 profiles each: A^2 is unbiased, the 68 % interval holds the truth in 68 %, at 60 and at 3600 counts in
// 36 bins (below two, and a hundred a bin). The sampling error of a share is 1.5 %; three of it. A known length below
// the noise is covered more often (up to 84 %), because intervals end at zero.
TEST(Anisotropy, IntervalsHoldTheTruthAtFewAndManyCounts) {
  std::mt19937_64 random(21);
  for (const double total : {60.0, 3600.0})
    for (const double a : {0.0, 0.3, 0.8}) {
      const auto expected = profile(36, total, wave(a, 25.0));
      const int repeats = 1000;
      double mean = 0, square = 0, claimed = 0;
      int inside = 0, s2_inside = 0;
      for (int r = 0; r < repeats; ++r) {
        const Anisotropy got = anisotropy(draw(expected, random), {.director_deg = 25.0});
        mean += got.amplitude_squared / repeats;
        square += got.amplitude_squared * got.amplitude_squared / repeats;
        claimed += got.amplitude_squared_u / repeats;
        inside += got.amplitude.band68.contains(a / 2);
        s2_inside += got.order_parameter->band68.contains(4 * a / 15 / (1 - a / 3));
      }
      const double sd = std::sqrt(square - mean * mean);
      // Denominators: a relative 1/total of A^2 and of the noise 1/(2 total) that is taken off.
      EXPECT_NEAR(mean, a * a / 4, 4 * sd / std::sqrt(repeats) + 2 * (a * a / 4 + 0.5 / total) / total)
          << total << " " << a;
      EXPECT_GT(static_cast<double>(inside) / repeats, 0.68 - 0.045) << total << " " << a;
      EXPECT_LT(static_cast<double>(inside) / repeats, a * std::sqrt(total) < 3 ? 0.88 : 0.725) << total << " " << a;
      EXPECT_NEAR(static_cast<double>(s2_inside) / repeats, 0.6827, 0.045) << total << " " << a;
      RecordProperty(fmt::format("coverage_{}_counts_a_{}", total, a),
                     fmt::format("A {:.3f}, S2 {:.3f}; A^2 {:.5f} of {:.5f}", static_cast<double>(inside) / repeats,
                                 static_cast<double>(s2_inside) / repeats, mean, a * a / 4));
      // The claimed sd of A^2 is estimated from the same noise; for a ring it is high, because a square is not
      // negative.
      EXPECT_GT(claimed / sd, 0.85) << total << " " << a;
      EXPECT_LT(claimed / sd, 1.4) << total << " " << a;
    }
}

// False alarms of the test for isotropy at 5 %: 2000 isotropic profiles, four standard deviations are 2 %.
TEST(Anisotropy, FalseAlarmsAreAsRareAsTheySay) {
  std::mt19937_64 random(22);
  for (const double total : {36.0, 1000.0}) {
    const auto expected = profile(36, total, wave(0.0, 0.0));
    int alarms = 0;
    const int repeats = 2000;
    for (int r = 0; r < repeats; ++r) alarms += anisotropy(draw(expected, random)).isotropic_probability < 0.05;
    EXPECT_NEAR(static_cast<double>(alarms) / repeats, 0.05, 0.02) << total;
    RecordProperty(fmt::format("false_alarms_of_2000_at_{}_counts", total), alarms);
  }
}

TEST(Anisotropy, SaysWhatIsNotKnown) {
  std::mt19937_64 random(23);
  const Anisotropy ring = anisotropy(draw(profile(36, 1e4, wave(0.0, 0.0)), random));
  ASSERT_FALSE(ring.warnings.empty());
  EXPECT_NE(ring.warnings.back().find("the director is not known"), std::string::npos);
  auto spots = profile(36, 1e5, wave(0.2, 0.0));
  spots.intensity[7] *= 2;
  spots.counts[7] *= 2;
  EXPECT_NE(anisotropy(spots).warnings.front().find("not that of its lowest harmonics"), std::string::npos);
}

TEST(Anisotropy, RefusesWhatCannotTell) {
  const auto p = profile(36, 1e4, wave(0.5, 0.0));
  EXPECT_NE(
      refusal<InputError>([&] { anisotropy(part(p, [](double deg) { return deg < 40; })); }).find("has 4 azimuth"),
      std::string::npos);
  EXPECT_NE(refusal<NumericalError>([&] {
              anisotropy(part(p, [](double deg) { return deg < 60; }));
            }).find("(17 % of the circle) do not determine"),
            std::string::npos);
  EXPECT_NE(refusal<InputError>([&] { anisotropy(profile(8, 1e4, wave(0.5, 0.0))); }).find("is 45 degrees wide"),
            std::string::npos);
  auto dark = p;
  dark.intensity.setZero();
  EXPECT_NE(refusal<InputError>([&] { anisotropy(dark); }).find("mean intensity of 'made up' is 0"), std::string::npos);
}

}  // namespace
}  // namespace sievelight
