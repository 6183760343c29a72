// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/line_peaks.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace sievelight {
namespace {

/// Sums of Poisson counts along a radius: a power law, a flat level and Gaussian peaks.
LineProfile radius(const std::vector<double>& places, double height, double sigma, double power_law, unsigned number) {
  std::mt19937 random(number);
  LineProfile p{Eigen::ArrayXd(400), Eigen::ArrayXd(400)};
  for (Eigen::Index i = 0; i < 400; ++i) {
    const double r = static_cast<double>(i) + 0.5;
    double mean = 5.0 + power_law * std::pow(r / 50.0, -4.0);
    for (const double at : places) mean += height * std::exp(-0.5 * std::pow((r - at) / sigma, 2));
    p.pixels[i] = r < 20.0 ? 0.0 : std::floor(6.0 * r) + 1.0;
    p.counts[i] = static_cast<double>(std::poisson_distribution<long>(mean * p.pixels[i])(random));
  }
  return p;
}

TEST(LinePeaks, AreFoundWithTheirPlacesAndWidths) {
  const auto peaks = find_line_peaks(radius({60.3, 121.0, 300.8}, 20.0, 3.0, 50.0, 1));
  ASSERT_EQ(peaks.size(), 3u);
  const double places[] = {60.3, 121.0, 300.8};
  for (std::size_t i = 0; i < 3; ++i) {
    EXPECT_NEAR(peaks[i].position_px, places[i], 0.5);
    EXPECT_NEAR(peaks[i].fwhm_px, 2.3548 * 3.0, 1.5);  // its sides are read off bins of one pixel
    EXPECT_GT(peaks[i].significance, 6.0);
  }
}

// Property: 100 profiles without a peak. Six standard deviations of Gaussian noise have a chance of 1e-9; a thousand
// windows a profile leave 1e-4 in all.
TEST(LinePeaks, AreNotFoundInNoiseOrInAPowerLaw) {
  int alarms = 0;
  for (unsigned i = 0; i < 100; ++i) alarms += static_cast<int>(find_line_peaks(radius({}, 0.0, 1.0, 50.0, i)).size());
  EXPECT_EQ(alarms, 0);
}

TEST(LinePeaks, AreNotTheShoulderOfASample) {
  LineProfile p = radius({}, 0.0, 1.0, 0.0, 1);
  for (Eigen::Index i = 20; i < 400; ++i)  // Guinier's law, with a radius of gyration of 1/(60 px)
    p.counts[i] += std::round(p.pixels[i] * 500.0 * std::exp(-std::pow(static_cast<double>(i) / 60.0, 2) / 3.0));
  EXPECT_TRUE(find_line_peaks(p).empty());
}

TEST(LinePeaks, AreNotTheRimOfAShadow) {
  LineProfile p = radius({150.0}, 20.0, 3.0, 200.0, 2);
  for (Eigen::Index i = 0; i < 40; ++i) p.counts[i] = std::floor(0.02 * p.counts[i]);
  const auto peaks = find_line_peaks(p);
  ASSERT_FALSE(peaks.empty());
  EXPECT_NEAR(peaks.back().position_px, 150.0, 0.5);
  for (const LinePeak& peak : peaks) EXPECT_FALSE(std::abs(peak.position_px - 41.0) < 3.0) << peak.position_px;
}

TEST(LinePeaks, HaveNoContrastWhereNothingIsInView) {
  LineProfile p = radius({150.0}, 20.0, 3.0, 0.0, 3);
  p.pixels.segment(140, 30).setZero();
  p.counts.segment(140, 30).setZero();
  EXPECT_TRUE(std::isinf(line_contrast(p, 150.0, 3.0).noise));
  EXPECT_TRUE(find_line_peaks(p).empty());
}

}  // namespace
}  // namespace sievelight
