// SPDX-License-Identifier: GPL-3.0-or-later
/// The sample's shape in the beam and what it does to scattering at an angle, averaged over what each bin sees.
/// A bin sees directions of one 2theta and many azimuths; for a flat intensity in the bin the mean of the factor over
/// its pixels, weighted as they are, is exact. Start at AngleFactors.
#pragma once

#include "sievelight/reduce/capillary.hpp"
#include "sievelight/reduce/plate.hpp"

#include <Eigen/Core>
#include <string>
#include <variant>

namespace sievelight {

/// A plate, film or layer: its normal in the beam, or turned about the vertical axis. A film on a substrate is a plate
/// whose background is the bare substrate, with `walls` saying on which side of the film it stands.
struct PlateShape {
  double rotation_deg = 0.0;
  WallPosition walls = WallPosition::ignore;  // where the cell's walls or the substrate stand, seen from the sample
};
using SampleShape = std::variant<PlateShape, CapillaryShape>;

/// Azimuths of a bin stand at the middles of this many equal parts from -pi; a weight between two middles is shared
/// linearly, so that a bin which sees a corner alone keeps its mean azimuth.
inline constexpr Eigen::Index azimuth_parts = 36;

/// For every bin: C of the sample's own scattering (walls behind it included), and o of the walls' scattering.
struct AngleFactors {
  Eigen::VectorXd sample, walls;
  double path_ratio = 1.0;  // length of the path over the thickness (plate) or inner diameter (capillary)
};
/// `transmission` of the sample alone, `walls_transmission` of the cell or substrate; (n) cos 2theta;
/// (n, azimuth_parts) share of each bin's weight, or empty = even. Raises as path_excess() and Capillary.
AngleFactors angle_factors(const SampleShape& shape, double transmission, double walls_transmission,
                           const Eigen::VectorXd& cos_two_theta, const Eigen::MatrixXd& azimuth_share);

/// For people: "plate", "plate turned by 10 degrees", "capillary 1 mm, beam 0.5 mm wide".
std::string describe(const SampleShape& shape);

}  // namespace sievelight
