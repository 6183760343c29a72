// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/sample_shape.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

double middle(Index part) { return -pi + (static_cast<double>(part) + 0.5) * 2 * pi / azimuth_parts; }

double share(const MatrixXd& shares, Index bin, Index part) {
  return shares.size() == 0 ? 1.0 / azimuth_parts : shares(bin, part);
}

AngleFactors of_plate(const PlateShape& s, double t, double tw, const VectorXd& cosine, const MatrixXd& shares) {
  if (!(std::abs(s.rotation_deg) < 85))
    throw InputError(fmt::format("the plate is turned by {} degrees.", s.rotation_deg),
                     "Give rotation_deg between -85 and 85, 0 for a plate across the beam.");
  const double rotation = radians(s.rotation_deg);
  AngleFactors out{VectorXd::Zero(cosine.size()), VectorXd::Zero(cosine.size()), 1 / std::cos(rotation)};
  const Index parts = rotation == 0.0 ? 1 : azimuth_parts;  // across the beam every azimuth is alike
  for (Index i = 0; i < cosine.size(); ++i)
    for (Index a = 0; a < parts; ++a) {
      const double weight = parts == 1 ? 1.0 : share(shares, i, a);
      if (weight == 0.0) continue;
      const double excess = path_excess(cosine[i], middle(a), rotation);
      out.sample[i] += weight * plate_self_absorption(t, excess) * exit_wall(tw, excess, s.walls);
      out.walls[i] += weight * oblique_wall(t, excess, s.walls);
    }
  return out;
}

AngleFactors of_capillary(const CapillaryShape& s, double t, const VectorXd& cosine, const MatrixXd& shares) {
  const Capillary capillary(s, std::min(t, 1.0));
  AngleFactors out{VectorXd::Ones(cosine.size()), VectorXd::Ones(cosine.size()),
                   capillary.path_mm() / s.inner_diameter_mm};
  if (cosine.size() == 0) return out;
  // A cubic in sin(theta) through three angles and the value 1 straight on, in each azimuth, spares a double integral a
  // bin; the tests measure what it costs. Odd powers appear under an off-axis beam.
  const double far = 1 - cosine.minCoeff();
  const Eigen::Vector3d node(far / 4, far / 2, far);
  Eigen::Array3d c[azimuth_parts], o[azimuth_parts];
  for (Index a = 0; a < azimuth_parts; ++a)
    for (Index k = 0; k < 3; ++k) {
      c[a][k] = capillary.self_absorption(1 - node[k], middle(a));
      o[a][k] = capillary.oblique_wall(1 - node[k], middle(a));
    }
  for (Index i = 0; i < cosine.size(); ++i) {
    const double x = std::sqrt(std::max(0.0, (1 - cosine[i]) / far));
    const double x0 = 0.5, x1 = std::sqrt(0.5), x2 = 1.0;
    const Eigen::Array4d w(
        -(x - x0) * (x - x1) * (x - x2) / (x0 * x1 * x2), x * (x - x1) * (x - x2) / (x0 * (x0 - x1) * (x0 - x2)),
        x * (x - x0) * (x - x2) / (x1 * (x1 - x0) * (x1 - x2)), x * (x - x0) * (x - x1) / (x2 * (x2 - x0) * (x2 - x1)));
    double sample = 0, walls = 0;
    for (Index a = 0; a < azimuth_parts; ++a) {
      const double weight = share(shares, i, a);
      sample += weight * (w[0] + (w.tail<3>() * c[a]).sum());
      walls += weight * (w[0] + (w.tail<3>() * o[a]).sum());
    }
    out.sample[i] = sample;
    out.walls[i] = walls;
  }
  return out;
}

}  // namespace

AngleFactors angle_factors(const SampleShape& shape, double t, double tw, const VectorXd& cosine,
                           const MatrixXd& shares) {
  if (shares.size() != 0 && (shares.rows() != cosine.size() || shares.cols() != azimuth_parts))
    throw InputError(fmt::format("azimuth shares are {} x {}, needed are {} x {}.", shares.rows(), shares.cols(),
                                 cosine.size(), azimuth_parts),
                     "Take them from the averaged measurement.");
  if (const auto* plate = std::get_if<PlateShape>(&shape)) return of_plate(*plate, t, tw, cosine, shares);
  return of_capillary(std::get<CapillaryShape>(shape), t, cosine, shares);
}

std::string describe(const SampleShape& shape) {
  if (const auto* c = std::get_if<CapillaryShape>(&shape))
    return fmt::format("{} capillary, inner diameter {:.4g} mm, beam {:.4g} mm wide",
                       c->axis == CapillaryAxis::vertical ? "vertical" : "horizontal", c->inner_diameter_mm,
                       c->beam_width_mm);
  const PlateShape& p = std::get<PlateShape>(shape);
  return p.rotation_deg == 0.0 ? "plate across the beam"
                               : fmt::format("plate turned by {:.4g} degrees", p.rotation_deg);
}

}  // namespace sievelight
