// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/azimuth.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/base/units.hpp"

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::VectorXd;

// E[N] = weight * (1 + a cos 2 (chi - chi0)): the bins hold the pattern, whatever tilt and polarisation do to counts.
TEST(Azimuth, ProfileOfAPatternOnATiltedDetector) {
  DetectorGeometry g = small_detector();
  g.distance_mm = 120;
  g.yaw_rad = radians(15);
  const PixelMap map = pixel_map(g, 60, 70);
  AverageOptions options;
  options.corrections.polarization_fraction = 0.95;
  Frame frame;
  frame.exposure_s = 2.0;
  frame.counts = 2.0 * 1e7 * map.solid_angle_sr() * polarisation(map, 0.95) *
                 (1 + 0.6 * (2 * (map.azimuth_rad - radians(20))).cos());
  const AzimuthalProfile p = azimuthal_profile({&frame}, map, {}, {0.5, 4.0}, azimuth_edges(36), options);
  ASSERT_EQ(p.intensity.size(), 36);
  // The mean of the pattern over the pixels of a bin of 10 degrees differs from its value at their mean azimuth by
  // 0.6 * 4 * w^2/24 = 0.3 %, w = 0.17 rad.
  for (Eigen::Index i = 0; i < 36; ++i) {
    EXPECT_NEAR(p.intensity[i] / 1e7, 1 + 0.6 * std::cos(2 * radians(p.azimuth_deg[i] - 20)), 0.004);
    EXPECT_GE(p.azimuth_deg[i], p.low_deg[i]);
    EXPECT_LE(p.azimuth_deg[i], p.high_deg[i]);
  }
  EXPECT_EQ(p.steps.size(), 10u);
}

TEST(Azimuth, CountsOnlyTheAnnulusAndListsGaps) {
  const PixelMap map = pixel_map(small_detector(), 60, 70);
  const Mask masked = map.azimuth_rad > radians(30.0) && map.azimuth_rad < radians(60.0);
  Frame frame = expected_frame(map, Image::Ones(60, 70), 1.0, [](double) { return 1.0; });
  const AzimuthalProfile p = azimuthal_profile({&frame}, map, masked, {0.4, 0.8}, azimuth_edges(36));
  EXPECT_EQ(p.empty_bins, (std::vector<int>{3, 4, 5}));
  EXPECT_EQ(p.pixels.sum(), (map.q_per_nm >= 0.4 && map.q_per_nm <= 0.8 && !masked).count());
  EXPECT_EQ(p.counts.sum(), p.pixels.sum());
}

TEST(Azimuth, TakesTheDarkAway) {
  const PixelMap map = pixel_map(small_detector(), 60, 70);
  const Frame dark = expected_frame(map, Image::Ones(60, 70), 50.0, [](double) { return 2.0; });
  Frame frame = expected_frame(map, map.solid_angle_sr() * polarisation(map, 0.5), 10.0, [](double) { return 3e4; });
  frame.counts += 20.0;
  const AzimuthalProfile p =
      azimuthal_profile({&frame}, map, {}, {0.4, 0.8}, azimuth_edges(12), {}, {.name = "s", .dark = &dark});
  for (Eigen::Index i = 0; i < 12; ++i) {
    EXPECT_NEAR(p.intensity[i], 3e4, 1e-8);
    EXPECT_NEAR(p.dark_counts[i], 20.0 * p.pixels[i], 1e-9);
    // Poisson counts, and (t/t_D)^2 times those of the dark.
    EXPECT_NEAR(p.u[i] * p.normalisation[i], std::sqrt(p.counts[i] + 0.04 * 100 * p.pixels[i]), 1e-9 * p.counts[i]);
  }
}

TEST(Azimuth, RefusesAnAnnulusWithoutPixels) {
  const PixelMap map = pixel_map(small_detector(), 60, 70);
  const Frame frame = expected_frame(map, Image::Ones(60, 70), 1.0, [](double) { return 1.0; });
  const std::string none = message<InputError>([&] {
    azimuthal_profile({&frame}, map, {}, {50, 60}, azimuth_edges(12), {}, {.name = "Z-41"});
  });
  EXPECT_HOLDS(none, "no unmasked pixel of 'Z-41' lies in the annulus from q = 50 to 60 1/nm");
  EXPECT_HOLDS(none, "The unmasked pixels reach from");
  EXPECT_HOLDS(message<InputError>([&] {
                 azimuthal_profile({&frame}, map, {}, {0.8, 0.4}, azimuth_edges(12));
               }),
               "the annulus reaches from q = 0.8 to 0.4");
}

}  // namespace
}  // namespace sievelight
