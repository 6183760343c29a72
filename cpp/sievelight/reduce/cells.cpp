// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/cells.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace sievelight {

using Eigen::Index;
using Eigen::VectorXd;

Averaged average_cells(const std::vector<const Frame*>& frames, const PixelMap& map, const Mask& masked,
                       const Cells& cells, AverageOptions options, const ExposureOptions& exposure) {
  options.blur.reset();  // a blur of q has no meaning here
  PixelMap placed = map;
  placed.place = 1.0 + cells.place;  // above zero, as edges have to be
  Mask skip = !cells.place.isFinite();
  if (masked.size() != 0) skip = skip || masked;
  Averaged out =
      average(frames, placed, skip, VectorXd::LinSpaced(cells.count + 1, 1.0, 1.0 + cells.count), options, exposure);
  out.curve.q_per_nm.array() -= 1.0;
  std::erase_if(out.notes, [](const std::string& note) { return note.find("mean q of a bin") != std::string::npos; });
  return out;
}

VectorXd azimuth_edges(int bins, double low_deg) {
  if (bins < 1 || !std::isfinite(low_deg))
    throw InputError(fmt::format("{} azimuth bins from {} degrees were asked for.", bins, low_deg),
                     "Give one bin or more, and the first edge in degrees.");
  return VectorXd::LinSpaced(bins + 1, low_deg, low_deg + 360.0);
}

void check_azimuth_edges(const VectorXd& edges) {
  if (edges.size() < 2)
    throw InputError(fmt::format("there are {} azimuth edges.", edges.size()), "Give two or more, in degrees.");
  for (Index i = 0; i < edges.size(); ++i)
    if (!std::isfinite(edges[i]) || (i > 0 && edges[i] <= edges[i - 1]))
      throw InputError(fmt::format("azimuth edge {} is {} degrees{}.", i, edges[i],
                                   i > 0 ? fmt::format(", after {}", edges[i - 1]) : ""),
                       "Give finite edges that rise.");
  const double span = edges[edges.size() - 1] - edges[0];
  if (span > 360.0 * (1 + 1e-12))
    throw InputError(fmt::format("the azimuth edges span {} degrees.", span), "Let them span 360 degrees at most.");
}

double azimuth_place(double azimuth_deg, const VectorXd& edges) {
  const Index n = edges.size() - 1;
  double angle = azimuth_deg - edges[0];
  angle = edges[0] + (angle - 360.0 * std::floor(angle / 360.0));
  if (!(angle <= edges[n])) return std::numeric_limits<double>::quiet_NaN();
  const double* first = edges.data();
  const Index bin = std::min<Index>(std::upper_bound(first, first + n + 1, angle) - first, n) - 1;
  // Strictly below the next cell, whatever the rounding.
  const double inside = std::min((angle - edges[bin]) / (edges[bin + 1] - edges[bin]), 1.0 - 1e-9);
  return static_cast<double>(bin) + inside;
}

}  // namespace sievelight
