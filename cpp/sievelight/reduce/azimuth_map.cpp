// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/azimuth_map.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <cmath>
#include <limits>

namespace sievelight {

using Eigen::Index;

QAzimuthMap q_azimuth_map(const std::vector<const Frame*>& frames, const PixelMap& map, const Mask& masked,
                          const Eigen::VectorXd& q_edges, const Eigen::VectorXd& azimuth_edges,
                          const AverageOptions& options, const ExposureOptions& exposure) {
  check_azimuth_edges(azimuth_edges);
  const BinTable bins = bin_table(map, masked, q_edges);  // checks shapes, edges and that pixels lie in the range
  const Index columns = q_edges.size() - 1, rows = azimuth_edges.size() - 1;
  Cells cells{Image::Constant(map.q_per_nm.rows(), map.q_per_nm.cols(), std::numeric_limits<double>::quiet_NaN()),
              static_cast<int>(rows * columns)};
  Index found = 0;
  for (Index i = 0; i < cells.place.size(); ++i) {
    const std::int32_t bin = bins.index.data()[i];
    if (bin < 0) continue;
    const double row = azimuth_place(degrees(map.azimuth_rad.data()[i]), azimuth_edges);
    if (!std::isfinite(row)) continue;
    cells.place.data()[i] = std::floor(row) * static_cast<double>(columns) + bin + 0.5;
    ++found;
  }
  if (found == 0)
    throw InputError(fmt::format("no unmasked pixel of '{}' lies between {:.4g} and {:.4g} degrees.", exposure.name,
                                 azimuth_edges[0], azimuth_edges[rows]),
                     "Azimuth counts from +x towards +y; give edges that meet the detector.");
  const Averaged a = average_cells(frames, map, masked, cells, options, exposure);
  QAzimuthMap out{a.name,
                  q_edges,
                  azimuth_edges,
                  Image::Zero(rows, columns),
                  Image::Zero(rows, columns),
                  Image::Zero(rows, columns),
                  decltype(QAzimuthMap::pixels)::Zero(rows, columns),
                  a.steps,
                  a.notes};
  const Eigen::VectorXd u = pointwise_u(a.curve);
  for (Index i = 0; i < a.bin.size(); ++i) {
    out.intensity.data()[a.bin[i]] = a.curve.intensity[i];
    out.u.data()[a.bin[i]] = u[i];
    out.counts.data()[a.bin[i]] = a.counts[i];
    out.pixels.data()[a.bin[i]] = a.pixels[i];
  }
  return out;
}

}  // namespace sievelight
