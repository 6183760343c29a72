// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/mask_q.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/geometry/pixel_map.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

const DetectorGeometry geometry{.wavelength_nm = 0.15,
                                .distance_mm = 1000,
                                .beam_center_x_px = 20,
                                .beam_center_y_px = 20,
                                .pixel_size_x_mm = 0.1,
                                .pixel_size_y_mm = 0.1};

// q = (4 pi / lambda) sin(atan(r / L) / 2): at 10 pixels of 0.1 mm and 1 m it is 0.0418879 1/nm.
TEST(MaskQ, CoversADiscOnAnUntiltedDetector) {
  const PixelMap map = pixel_map(geometry, 41, 41);
  const Mask mask = mask_q_range(map.q_per_nm, 0, 0.041888);
  EXPECT_EQ(mask.count(), 317);  // Gauss's circle problem: lattice points within a radius of 10
  EXPECT_EQ(mask_q_range(map.q_per_nm, 0, 0.041888, true).count(), 41 * 41 - 317);
}

TEST(MaskQ, RefusesRangesThatTheDetectorDoesNotSee) {
  const PixelMap map = pixel_map(geometry, 41, 41);
  EXPECT_NE(refusal<InputError>([&] { mask_q_range(map.q_per_nm, 5, 6); }).find("no pixel lies in 5 <= q <= 6"),
            std::string::npos);
  EXPECT_NE(refusal<InputError>([&] { mask_q_range(map.q_per_nm, 6, 5); }).find("runs from 6 to 5"), std::string::npos);
  EXPECT_NE(refusal<InputError>([&] { mask_q_range(map.q_per_nm, 0, 5); }).find("every pixel"), std::string::npos);
}

}  // namespace
}  // namespace sievelight
