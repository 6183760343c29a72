// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/mask_shapes.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

#include <limits>

namespace sievelight {
namespace {

constexpr DetectorShape detector{6, 8};

template <typename Call>
bool refused(const Call& call, const std::string& words) {
  return refusal<InputError>(call).find(words) != std::string::npos;
}

TEST(MaskShapes, RectanglesCountTheirEdges) {
  const Mask mask = mask_rectangle(detector, {1, 3}, {2, 2.9});
  EXPECT_EQ(mask.count(), 3);
  EXPECT_TRUE(mask(2, 1) && mask(2, 3));
  EXPECT_EQ(mask_rectangle(detector, {1, 3}, {2, 2.9}, true).count(), 48 - 3);
  EXPECT_EQ(mask_rectangle(detector, {-100, 1}, {-100, 100}).count(), 12);
}

// The lattice points of x^2 + y^2 <= 4 are 13 (Gauss's circle problem).
TEST(MaskShapes, CirclesHoldTheLatticePointsOfTheirDisc) {
  EXPECT_EQ(mask_circle(detector, {4, 3}, 2).count(), 13);
  EXPECT_EQ(mask_circle(detector, {4, 3}, 2, true).count(), 48 - 13);
  EXPECT_EQ(mask_circle(detector, {-1, 0}, 1).count(), 1);
}

// Pick's theorem: a lattice polygon of area A with b points on its outline holds A + b/2 + 1 points in all.
TEST(MaskShapes, PolygonsHoldWhatPicksTheoremSays) {
  EXPECT_EQ(mask_polygon(detector, {{0, 0}, {6, 0}, {0, 4}}).count(), 12 + (6 + 4 + 2) / 2 + 1);
  EXPECT_EQ(mask_polygon(detector, {{0, 0}, {7, 0}, {7, 5}, {3, 2}, {0, 5}}).count(),
            24.5 + (7 + 5 + 1 + 3 + 5) / 2.0 + 1);
  // The even-odd rule: a bow tie without its left and right
  const Mask bow = mask_polygon({9, 9}, {{0, 0}, {8, 0}, {0, 8}, {8, 8}});
  EXPECT_TRUE(bow(1, 4) && bow(7, 4));
  EXPECT_FALSE(bow(4, 1) || bow(4, 7));
}

TEST(MaskShapes, ValuesAreMaskedInAClosedRange) {
  Image counts(1, 5);
  counts << 0, 1, 2, 3, std::numeric_limits<double>::quiet_NaN();
  const double open = std::numeric_limits<double>::infinity();
  EXPECT_EQ(mask_values(counts, 1, 2).count(), 2);
  EXPECT_EQ(mask_values(counts, 3, open).count(), 1);
  EXPECT_EQ(mask_values(counts, 7, open).count(), 0);
  EXPECT_TRUE(mask_values(counts, 1, 2, true)(0, 4));  // not a number is never in the range
  EXPECT_TRUE(refused([&] { mask_values(counts, 7, open, true); }, "would mask every pixel"));
  EXPECT_TRUE(refused([&] { mask_values(counts, 2, 1); }, "runs from 2 to 1"));
}

TEST(MaskShapes, RefuseWhatCannotBeMeant) {
  EXPECT_TRUE(refused([] { mask_polygon(detector, {{0, 0}, {1, 1}}); }, "has 2 corners"));
  EXPECT_TRUE(refused([] { mask_polygon(detector, {{0, 0}, {1, 1}, {3, 3}}); }, "encloses no area"));
  EXPECT_TRUE(refused([] { mask_polygon(detector, {{0, 0}, {1, 1}, {3, std::nan("")}}); }, "corner 2"));
  EXPECT_TRUE(refused(
      [] {
        mask_circle(detector, {100, 3}, 5);
      },
      "covers no pixel of a detector of 8 columns and 6 rows"));
  EXPECT_TRUE(refused([] { mask_circle(detector, {4.5, 3.5}, 0.2, true); }, "covers no pixel"));
  EXPECT_TRUE(refused([] { mask_circle(detector, {4, 3}, 0); }, "a radius of 0"));
  EXPECT_TRUE(refused([] { mask_circle(detector, {4, 3}, 50); }, "would mask every pixel"));
  EXPECT_TRUE(refused([] { mask_rectangle(detector, {3, 1}, {0, 2}); }, "from x 3 to 1"));
  EXPECT_TRUE(refused([] { mask_rectangle({0, 8}, {1, 3}, {0, 2}); }, "0 x 8 pixels"));
}

}  // namespace
}  // namespace sievelight
