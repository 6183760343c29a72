// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/size_family.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/distribution/summary.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

SizeGrid wide() {
  SizeGrid grid = make_grid(0.05, 5.0, std::nullopt, {.cells_per_decade = 400, .most_cells = 1400});
  grid.window_low = 0;
  grid.window_high = grid.size() - 1;
  return grid;
}

Summary of(SizeFamily family, std::initializer_list<double> values) {
  Eigen::VectorXd p(static_cast<Eigen::Index>(values.size()));
  std::copy(values.begin(), values.end(), p.data());
  const SizeGrid grid = wide();
  return Summariser(grid)(family_density(family, p, grid));
}

// Closed moments; the hat functions of a grid of 0.6 % steps are good to (step / width)^2 / 12 = 1e-4 at a width of
// 0.2.
TEST(SizeFamily, HasItsClosedMoments) {
  const Summary ln = of(SizeFamily::log_normal, {12.0, 0.2});
  EXPECT_NEAR(ln.volume, 1.0, 1e-12);
  EXPECT_NEAR(ln.x50_nm, 12.0, 1e-3);
  EXPECT_NEAR(ln.x90_nm, 12.0 * std::exp(1.2815515655 * 0.2), 3e-3);
  EXPECT_NEAR(ln.mean_nm, 12.0 * std::exp(0.02), 2e-3);
  EXPECT_NEAR(ln.relative_width, std::sqrt(std::exp(0.04) - 1), 1e-4);
  for (const SizeFamily family : {SizeFamily::schulz_zimm, SizeFamily::gaussian}) {
    const Summary s = of(family, {12.0, 0.15});
    EXPECT_NEAR(s.mean_nm, 12.0, 2e-3) << name(family);
    EXPECT_NEAR(s.relative_width, 0.15, 1e-4) << name(family);
  }
  const Summary one = of(SizeFamily::monodisperse, {12.0});
  EXPECT_NEAR(one.mean_nm, 12.0, 1e-3);
  EXPECT_LT(one.relative_width, 0.006);
  const Summary two = of(SizeFamily::two_log_normals, {6.0, 0.1, 20.0, 0.1, 0.3});
  EXPECT_NEAR(two.mean_nm, (0.3 * 6 + 0.7 * 20) * std::exp(0.005), 3e-3);
}

TEST(SizeFamily, RefusesParametersThatAreNone) {
  const SizeGrid grid = wide();
  EXPECT_THROW(family_density(SizeFamily::log_normal, Eigen::Vector2d(12, -1), grid), InputError);
  try {
    family_density(SizeFamily::gaussian, Eigen::Vector3d(12, 0.1, 1), grid);
    FAIL() << "accepted";
  } catch (const InputError& error) {
    EXPECT_NE(error.mend().find("mean_nm, relative_width"), std::string::npos) << error.mend();
  }
}

}  // namespace
}  // namespace sievelight
