// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/grid.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

TEST(SizeGrid, SpansWhatTheDataSupportAndReachesBeyond) {
  const SizeGrid grid = make_grid(0.05, 5.0);
  EXPECT_NEAR(grid.window_nm().low, 3 * pi / 5.0, 1e-12);
  EXPECT_NEAR(grid.window_nm().high, pi / 0.05, 1e-12);
  EXPECT_LE(grid.diameter_nm[0], 1.5 * pi / 5.0 * 1.001);
  EXPECT_GE(grid.diameter_nm[grid.size() - 1], 1.6 * pi / 0.05 * 0.999);
  EXPECT_LE(grid.step, std::log(10.0) / 60 + 1e-12);
  for (Eigen::Index j = 1; j < grid.size(); ++j)
    EXPECT_NEAR(std::log(grid.diameter_nm[j] / grid.diameter_nm[j - 1]), grid.step, 1e-12);
}

TEST(SizeGrid, TakesAWindowAsItIsAsked) {
  const SizeGrid grid = make_grid(0.05, 5.0, Range{3.0, 60.0});
  EXPECT_DOUBLE_EQ(grid.window_nm().low, 3.0);
  EXPECT_DOUBLE_EQ(grid.window_nm().high, 60.0);
  EXPECT_LT(grid.diameter_nm[0], 1.0);  // still covers what the data see below the window
}

// A distribution that is linear in ln D between nodes, here h = 1 and h = u: moments over the window are elementary.
TEST(SizeGrid, IntegratesPiecewiseLinearDensitiesExactly) {
  const SizeGrid grid = make_grid(0.08, 1.7, Range{5.0, 40.0});
  const Eigen::VectorXd ones = Eigen::VectorXd::Ones(grid.size()), u = grid.diameter_nm.array().log();
  EXPECT_NEAR(grid.window_moment(0).dot(ones), std::log(8.0), 1e-12);
  EXPECT_NEAR(grid.window_moment(1).dot(ones), 35.0, 1e-10);                 // integral of e^u
  EXPECT_NEAR(grid.window_moment(2).dot(ones), (1600.0 - 25.0) / 2, 1e-9);   // of e^(2u)
  EXPECT_NEAR(grid.window_moment(-1).dot(ones), 1 / 5.0 - 1 / 40.0, 1e-12);  // of e^-u
  const auto primitive = [](double d) { return d * (std::log(d) - 1); };     // of u e^u
  EXPECT_NEAR(grid.window_moment(1).dot(u), primitive(40) - primitive(5), 1e-9);
}

TEST(SizeGrid, RefusesAnImpossibleWindowAndTooShortData) {
  try {
    make_grid(0.05, 5.0, Range{60.0, 3.0});
    FAIL() << "accepted";
  } catch (const InputError& e) {
    EXPECT_NE(std::string(e.what()).find("60 to 3 nm"), std::string::npos);
    EXPECT_NE(e.mend().find("1.88 to 62.8 nm"), std::string::npos);
  }
  EXPECT_THROW(make_grid(1.0, 3.0), InputError);
  EXPECT_THROW(make_grid(0.05, 5.0, Range{-1.0, 3.0}), InputError);
}

}  // namespace
}  // namespace sievelight
