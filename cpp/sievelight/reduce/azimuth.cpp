// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/azimuth.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <cmath>
#include <limits>

namespace sievelight {

using Eigen::Index;

AzimuthalProfile azimuthal_profile(const std::vector<const Frame*>& frames, const PixelMap& map, const Mask& masked,
                                   const Range& range, const Eigen::VectorXd& edges, const AverageOptions& options,
                                   const ExposureOptions& exposure) {
  check_azimuth_edges(edges);
  if (!std::isfinite(range.low) || !std::isfinite(range.high) || !(range.low < range.high) || range.low < 0)
    throw InputError(fmt::format("the annulus reaches from q = {} to {} 1/nm.", range.low, range.high),
                     "Give a lower and a higher q in 1/nm, zero or more.");
  const Range seen = usable_q(map, masked);  // also checks the shapes
  Cells cells{Image::Constant(map.q_per_nm.rows(), map.q_per_nm.cols(), std::numeric_limits<double>::quiet_NaN()),
              static_cast<int>(edges.size() - 1)};
  Index found = 0;
  for (Index i = 0; i < cells.place.size(); ++i) {
    if (masked.size() != 0 && masked.data()[i]) continue;
    if (map.q_per_nm.data()[i] <= 0 || !range.contains(map.q_per_nm.data()[i])) continue;
    cells.place.data()[i] = azimuth_place(degrees(map.azimuth_rad.data()[i]), edges);
    found += std::isfinite(cells.place.data()[i]);
  }
  if (found == 0)
    throw InputError(
        fmt::format("no unmasked pixel of '{}' lies in the annulus from q = {:.4g} to {:.4g} 1/nm and from "
                    "{:.4g} to {:.4g} degrees.",
                    exposure.name, range.low, range.high, edges[0], edges[edges.size() - 1]),
        fmt::format("The unmasked pixels reach from {:.4g} to {:.4g} 1/nm.", seen.low, seen.high));
  const Averaged a = average_cells(frames, map, masked, cells, options, exposure);
  AzimuthalProfile out;
  out.name = a.name;
  out.q_range_per_nm = range;
  out.intensity = a.curve.intensity;
  out.u = pointwise_u(a.curve);
  out.counts = a.counts;
  out.dark_counts = a.dark_counts;
  out.normalisation = a.normalisation;
  out.pixels = a.pixels;
  out.empty_bins = a.empty_bins;
  out.steps = a.steps;
  out.notes = a.notes;
  out.low_deg = edges.head(cells.count)(a.bin);
  out.high_deg = edges.tail(cells.count)(a.bin);
  const Eigen::ArrayXd inside = a.curve.q_per_nm.array() - a.bin.cast<double>().array();
  out.azimuth_deg = out.low_deg.array() + inside * (out.high_deg - out.low_deg).array();
  return out;
}

}  // namespace sievelight
