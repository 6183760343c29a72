// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/sample_shape.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/base/units.hpp"

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::MatrixXd;
using Eigen::VectorXd;

VectorXd cosines() {
  VectorXd out(9);
  for (Eigen::Index i = 0; i < 9; ++i) out[i] = std::cos(radians(0.3 + 2.4 * static_cast<double>(i)));
  return out;
}

TEST(AngleFactors, OfAPlateAcrossTheBeamAreTheClosedForms) {
  const AngleFactors f = angle_factors(PlateShape{0.0, WallPosition::both}, 0.3, 0.8, cosines(), {});
  for (Eigen::Index i = 0; i < 9; ++i) {
    const double excess = 1 / cosines()[i] - 1;
    EXPECT_DOUBLE_EQ(f.sample[i], plate_self_absorption(0.3, excess) * exit_wall(0.8, excess, WallPosition::both));
    EXPECT_DOUBLE_EQ(f.walls[i], oblique_wall(0.3, excess, WallPosition::both));
  }
  EXPECT_EQ(f.path_ratio, 1.0);
}

TEST(AngleFactors, OfATurnedPlateAreTheMeanOverTheAzimuthsSeen) {
  const VectorXd c = cosines();
  MatrixXd right = MatrixXd::Zero(9, azimuth_parts);
  right.col(azimuth_parts / 2).setOnes();  // all weight just above azimuth 0
  const AngleFactors one_side = angle_factors(PlateShape{40.0, WallPosition::ignore}, 0.3, 1.0, c, right);
  const double azimuth = pi / azimuth_parts;
  EXPECT_NEAR(one_side.sample[8], plate_self_absorption(0.3, path_excess(c[8], azimuth, radians(40))), 1e-14);
  EXPECT_GT(one_side.sample[8], 1.0);  // rays towards the normal leave by a shorter way
  const AngleFactors all = angle_factors(PlateShape{40.0, WallPosition::ignore}, 0.3, 1.0, c, {});
  EXPECT_LT(std::abs(all.sample[8] - 1), std::abs(one_side.sample[8] - 1));
  EXPECT_NEAR(all.path_ratio, 1 / std::cos(radians(40)), 1e-15);
}

// What the cubic through three angles costs against the integral at every angle: a photon in 10^5.
TEST(AngleFactors, OfACapillaryAreItsIntegrals) {
  const CapillaryShape shape{.inner_diameter_mm = 1.0, .beam_width_mm = 0.7, .beam_offset_mm = 0.1};
  const Capillary capillary(shape, 0.3);
  MatrixXd shares = MatrixXd::Zero(9, azimuth_parts);
  for (Eigen::Index a : {0, 7, 13}) {
    shares.setZero();
    shares.col(a).setOnes();
    const double azimuth = -pi + (static_cast<double>(a) + 0.5) * 2 * pi / azimuth_parts;
    const AngleFactors f = angle_factors(shape, 0.3, 0.9, cosines(), shares);
    for (Eigen::Index i = 0; i < 9; ++i) {
      EXPECT_NEAR(f.sample[i], capillary.self_absorption(cosines()[i], azimuth), 1e-4);
      EXPECT_NEAR(f.walls[i], capillary.oblique_wall(cosines()[i], azimuth), 1e-4);
    }
    EXPECT_NEAR(f.path_ratio, capillary.path_mm(), 1e-15);
  }
}

TEST(AngleFactors, RefuseShapesOfOtherSizes) {
  EXPECT_HOLDS(message<InputError>([] { angle_factors(PlateShape{}, 0.3, 1.0, cosines(), MatrixXd::Zero(3, 3)); }),
               "azimuth shares are 3 x 3, needed are 9 x 36");
  EXPECT_HOLDS(message<InputError>([] { angle_factors(PlateShape{90.0}, 0.3, 1.0, cosines(), {}); }), "turned by 90");
  EXPECT_EQ(describe(PlateShape{}), "plate across the beam");
}

}  // namespace
}  // namespace sievelight
