// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/given_frames.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/frames/open.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

#include <cstdint>
#include <stdexcept>

namespace sievelight {
namespace {

// Two exposures of 2 x 3: 0 1 2 / 3 4 5 and ten more each, the first pixel of the second a marker.
GivenFrames two_exposures() {
  GivenFrames given{"mine", "uint16", 2, 2, 3, {}, Eigen::VectorXd::Constant(2, 1.5), {}, {}, {}};
  given.fetch = [](Eigen::Index index) {
    auto numbers = std::make_shared<std::vector<std::uint16_t>>();
    for (int i = 0; i < 6; ++i) numbers->push_back(static_cast<std::uint16_t>(i + 10 * index));
    if (index == 1) numbers->front() = 65535;
    return std::shared_ptr<const void>(numbers, numbers->data());
  };
  return given;
}

TEST(GivenFrames, AddUpByTheSameRulesAsAnyFormat) {
  GivenFrames given = two_exposures();
  given.masked = Mask::Constant(2, 3, false);
  given.masked(1, 2) = true;
  const FrameFile file("x.mine", given, {"", 13.0, {}});
  EXPECT_EQ(file.format(), "mine");
  EXPECT_EQ(file.stored_type(), "uint16");
  EXPECT_EQ(file.count(), 2);
  const Frame sum = file.read_sum();
  EXPECT_EQ(sum.counts(0, 1), 1 + 11);
  EXPECT_EQ(sum.exposure_s, 3.0);
  // The type's largest number, the mask, and what reaches the saturation value of 13 in one exposure.
  Mask expected(2, 3);
  expected << true, false, false, true, true, true;
  EXPECT_TRUE((sum.masked == expected).all());
  EXPECT_FALSE(file.read(0).masked(1, 0));
}

TEST(GivenFrames, WhatTheCallerSaysHolds) {
  GivenFrames given = two_exposures();
  given.exposures_s.resize(0);
  EXPECT_EQ(FrameFile("x", given).metadata().notes, std::vector<std::string>{"no exposure time in the file"});
  FrameFile file("x", given, {"", {}, 4.0});
  EXPECT_EQ(file.exposures_s()(1), 4.0);
  EXPECT_TRUE(file.metadata().notes.empty());
  file.add_note("said later");
  EXPECT_EQ(file.read(0).metadata.notes, std::vector<std::string>{"said later"});
}

TEST(GivenFrames, AReaderThatFailsIsHeard) {
  GivenFrames given = two_exposures();
  given.fetch = [](Eigen::Index) -> std::shared_ptr<const void> { throw std::runtime_error("the disk is gone"); };
  EXPECT_THROW(FrameFile("x", given).read(0), std::runtime_error);
}

TEST(GivenFrames, RefusesWhatDoesNotFitTogether) {
  const auto words = [](auto change) {
    GivenFrames given = two_exposures();
    change(given);
    return refusal<DataError>([&] { FrameFile("x.mine", given); });
  };
  const auto has = [](const std::string& text, const char* part) { return text.find(part) != std::string::npos; };
  EXPECT_TRUE(has(words([](GivenFrames& g) { g.stored_type = "complex64"; }), "are of type complex64"));
  EXPECT_TRUE(has(words([](GivenFrames& g) { g.rows = 0; }), "is empty"));
  EXPECT_TRUE(has(words([](GivenFrames& g) { g.exposures_s.resize(3); }), "3 exposure times for 2 exposures"));
  EXPECT_TRUE(has(words([](GivenFrames& g) { g.exposures_s(1) = 0; }), "number 1 of the exposure times is 0"));
  EXPECT_TRUE(
      has(words([](GivenFrames& g) { g.monitors = Eigen::VectorXd::Constant(2, -1); }), "of the monitors is -1"));
  EXPECT_TRUE(
      has(words([](GivenFrames& g) { g.masked = Mask::Constant(3, 2, false); }), "is 3 x 2, the frames are 2 x 3"));
}

}  // namespace
}  // namespace sievelight
