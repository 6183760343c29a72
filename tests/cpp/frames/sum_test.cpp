// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/sum.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

Frame some_frame(double counts, double seconds, std::optional<double> monitor) {
  return {Image::Constant(2, 3, counts), Mask::Constant(2, 3, false), seconds, monitor, 1, {}};
}

TEST(SumFrames, AddsWhatAddsAndMasksWhatAnyMasks) {
  Frame a = some_frame(5, 1, 100.0), b = some_frame(7, 2, 300.0);
  a.masked(0, 1) = true;
  b.masked(1, 2) = true;
  a.metadata.notes = {"one", "two"};
  b.metadata.notes = {"two", "three"};
  const Frame sum = sum_frames({&a, &b});
  EXPECT_TRUE((sum.counts == 12.0).all());
  EXPECT_EQ(sum.masked.count(), 2);
  EXPECT_EQ(sum.exposure_s, 3);
  EXPECT_EQ(*sum.monitor, 400);
  EXPECT_EQ(sum.exposures, 2);
  EXPECT_EQ(sum.metadata.notes, (std::vector<std::string>{"one", "two", "three"}));
}

TEST(SumFrames, HasNoMonitorWhereOneIsMissing) {
  const Frame a = some_frame(5, 1, 100.0), b = some_frame(7, 2, std::nullopt);
  EXPECT_FALSE(sum_frames({&a, &b}).monitor);
  EXPECT_FALSE(sum_frames({&b, &a}).monitor);
}

TEST(SumFrames, RefusesNothingAndUnlikeShapes) {
  Frame a = some_frame(5, 1, 100.0), b = a;
  b.counts.resize(3, 2);
  EXPECT_NE(refusal<InputError>([&] {
              sum_frames({&a, &b});
            }).find("frame 1 is 3 x 2 and the first 2 x 3"),
            std::string::npos);
  EXPECT_NE(refusal<InputError>([] { sum_frames({}); }).find("no frames"), std::string::npos);
}

}  // namespace
}  // namespace sievelight
