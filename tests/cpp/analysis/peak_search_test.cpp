// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/peak_search.hpp"

#include "analysis/synthetic.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace sievelight {
namespace {

using namespace synthetic;

PeakSearch search_of(const Curve& curve) {
  return search_peaks({curve.q_per_nm.array(), curve.intensity.array(), curve.private_u.array().square()}, {});
}
const double first = 4.0 * pi / (std::sqrt(3.0) * 10.0);

// 11 and 20 are 0.19 apart with widths of 0.044, so they share a group; 10 and 21 stand alone.
TEST(PeakSearch, FitsNeighboursTogetherAndOthersAlone) {
  std::mt19937_64 random(3);
  const PeakSearch search = search_of(draw(with_relative_u(ordered_curve(log_grid(0.1, 5.0, 300), {}), 0.01), random));
  std::size_t peaks = 0;
  for (const PeakSearchGroup& group : search.groups) {
    peaks += group.fit.peaks.size();
    EXPECT_TRUE(group.fit.settled);
    EXPECT_EQ(group.fit.fit.size(), group.points);
  }
  EXPECT_EQ(peaks, 4u);
  EXPECT_GT(search.places, 100.0);
}

TEST(PeakSearch, LeavesOneGroupOutOfWhatIsKnown) {
  const Curve curve = with_relative_u(ordered_curve(log_grid(0.1, 5.0, 300), {.contrast = {5.0}}), 0.01);
  const PeakSearch search = search_of(curve);
  ASSERT_EQ(search.groups.size(), 1u);
  const Eigen::ArrayXd q = curve.q_per_nm.array();
  // Height 5 times q^-3 + 0.02 at the peak, on a grid that misses the top by a little.
  EXPECT_NEAR(known_peaks(search.groups, nullptr, q).maxCoeff(), 5.0 * (std::pow(first, -3) + 0.02), 0.5);
  EXPECT_EQ(known_peaks(search.groups, &search.groups[0], q).abs().maxCoeff(), 0.0);
}

// A hump eleven times wider than a high peak beside it (growth with q^2 allows 7.6) is background, however significant.
TEST(PeakSearch, TakesNoHumpBesideAHighPeak) {
  std::mt19937_64 random(5);
  Curve curve = ordered_curve(Eigen::VectorXd::LinSpaced(800, 0.3, 3.0), {.contrast = {20.0}, .relative_width = 0.03});
  curve.intensity.array() += 0.6 * peak_shape((curve.q_per_nm.array() - 1.0) / 0.24, 0.0);
  const PeakSearch search = search_of(draw(with_relative_u(curve, 0.01), random));
  ASSERT_EQ(search.groups.size(), 1u);
  ASSERT_EQ(search.groups[0].fit.peaks.size(), 1u);
  EXPECT_NEAR(search.groups[0].fit.peaks[0].q_per_nm, first, 1e-3);
  EXPECT_GT(search.given_up, 0);
}

}  // namespace
}  // namespace sievelight
