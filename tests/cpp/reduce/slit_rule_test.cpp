// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/slit_rule.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <numeric>

namespace sievelight {
namespace {

// Source: q = (4 pi/lambda) sin theta with tan 2theta = r/L; at r = 100 mm, L = 500 mm, 2theta = 11.309932 deg.
TEST(SlitRule, MapsTheDetectorPlaneExactly) {
  SlitProfile profile;
  profile.geometry = SlitGeometry{500, 0.154};
  const SlitMap map(profile);
  const double q = 4 * std::numbers::pi / 0.154 * std::sin(0.5 * 11.309932474 * std::numbers::pi / 180);
  EXPECT_NEAR(map.q_per_nm(100), q, 1e-9);
  EXPECT_NEAR(map.place(q), 100, 1e-7);
  EXPECT_NEAR(map.q_slope(100), (map.q_per_nm(100.001) - map.q_per_nm(99.999)) / 0.002, 1e-9);
  // The small-angle slope 2 pi/(lambda L) at the beam.
  EXPECT_NEAR(map.q_slope(0), 2 * std::numbers::pi / (0.154 * 500), 1e-15);
  EXPECT_THROW(map.place(70), InputError);
  const SlitMap none{SlitProfile{}};
  EXPECT_EQ(none.place(0.7), 0.7);
  EXPECT_EQ(none.q_per_nm(0.7), 0.7);
}

TEST(SlitRule, FoldsAProfileThatIsNotCentred) {
  const LineWeight off = measured_weight(Eigen::Vector3d(-1, 0.5, 3), Eigen::Vector3d(2, 4, 0));
  const LineWeight both = folded(off);
  for (const double l : {0.1, 0.5, 0.99, 1.01, 2.0, 2.9})
    EXPECT_NEAR(value(both, l), value(off, l) + value(off, -l), 1e-10) << l;
  double area = 0;
  for (Eigen::Index k = 0; k + 1 < both.position.size(); ++k)
    area += 0.5 * (both.weight[k] + both.weight[k + 1]) * (both.position[k + 1] - both.position[k]);
  EXPECT_NEAR(area, 1.0, 1e-11);
}

// The rule's moments are those of the profile.
TEST(SlitRule, WidthRulesHaveTheRightMoments) {
  SlitProfile gauss, measured;
  gauss.width_sd = 0.3;
  measured.width = measured_weight(Eigen::Vector3d(-1, 0.2, 0.6), Eigen::Vector3d(0, 1, 0));
  for (const auto& [profile, second] : {std::pair{gauss, 0.09}, {measured, second_moment(*measured.width)}}) {
    const WidthRule rule = width_rule(profile);
    double sum = 0, square = 0;
    for (std::size_t k = 0; k < rule.at.size(); ++k) {
      sum += rule.weight[k];
      square += rule.weight[k] * rule.at[k] * rule.at[k];
    }
    EXPECT_NEAR(sum, 1.0, 1e-14);
    EXPECT_NEAR(square, second, 1e-8 * second);
  }
}

}  // namespace
}  // namespace sievelight
