// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/geometry_causes.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/geometry/pixel_map.hpp"
#include "sievelight/reduce/local_fit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

void add_coherent(Curve& curve, const std::string& id, const VectorXd& u) {
  auto [mine, fresh] = curve.causes.try_emplace(id, Cause{CauseKind::coherent, VectorXd::Zero(curve.size())});
  if (mine->second.kind != CauseKind::coherent)
    throw InputError(fmt::format("the cause '{}' is pointwise in the curve.", id),
                     "Give the component an id of its own.");
  mine->second.u += u;
}

// Which bin of the shift each point of the curve is.
std::vector<Index> match(const Curve& curve, const GeometryShift& shift) {
  std::vector<Index> out;
  const VectorXd& edges = shift.edges_per_nm;
  for (Index i = 0; i < curve.size(); ++i) {
    const double low = curve.q_low_per_nm.size() == curve.size() ? curve.q_low_per_nm[i] : NAN;
    const double* found = std::lower_bound(edges.data(), edges.data() + edges.size(), low * (1 - 1e-9));
    const Index k = found - edges.data();
    if (!(k < edges.size() - 1) || !(std::abs(edges[k] - low) <= 1e-9 * low) ||
        !(std::abs(edges[k + 1] - curve.q_high_per_nm[i]) <= 1e-9 * edges[k + 1]))
      throw InputError(fmt::format("point {} of the curve (q = {:.5g} 1/nm) is no bin of the geometry's shift '{}'.", i,
                                   curve.q_per_nm[i], shift.id),
                       "Add the causes of the geometry before merging bins, with the table that averaged the curve.");
    out.push_back(k);
  }
  return out;
}

}  // namespace

GeometryShift geometry_shift(const std::string& id, const BinTable& table, const DetectorGeometry& base,
                             const DetectorGeometry& shifted) {
  const Index rows = table.index.rows(), columns = table.index.cols(), bins = table.pixels.size();
  const PixelMap before = pixel_map(base, rows, columns), after = pixel_map(shifted, rows, columns);
  GeometryShift out{id, table.edges_per_nm, VectorXd::Zero(bins), VectorXd::Zero(bins)};
  for (Index i = 0; i < table.index.size(); ++i) {
    const std::int32_t bin = table.index.data()[i];
    if (bin < 0) continue;
    out.delta_q_per_nm[bin] += after.q_per_nm.data()[i] - before.q_per_nm.data()[i];
    out.relative_solid_angle[bin] += after.solid_angle_sr(i) / before.solid_angle_sr(i) - 1;
  }
  for (Index k = 0; k < bins; ++k) {
    const double count = std::max(1, table.pixels[k]);
    out.delta_q_per_nm[k] /= count;
    out.relative_solid_angle[k] /= count;
  }
  return out;
}

Curve add_geometry_causes(const Curve& curve, const std::vector<GeometryShift>& shifts, const GeometryCauseOptions& o) {
  const VectorXd slope = local_slope(curve, o.half_width);
  Curve out = curve;
  for (const GeometryShift& shift : shifts) {
    const std::vector<Index> bins = match(curve, shift);
    VectorXd u = -slope.cwiseProduct(VectorXd(shift.delta_q_per_nm(bins)));
    if (o.solid_angle) u -= curve.intensity.cwiseProduct(VectorXd(shift.relative_solid_angle(bins)));
    add_coherent(out, shift.id, u);
  }
  return out;
}

Curve add_wavelength_cause(const Curve& curve, double relative_u, int half_width) {
  if (!(relative_u >= 0) || !std::isfinite(relative_u))
    throw InputError(fmt::format("the relative uncertainty of the wavelength is {}.", relative_u),
                     "Give zero or more.");
  Curve out = curve;
  add_coherent(out, "wavelength", relative_u * local_slope(curve, half_width).cwiseProduct(curve.q_per_nm));
  return out;
}

}  // namespace sievelight
