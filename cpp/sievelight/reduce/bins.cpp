// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/bins.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

void require_span(double low, double high, int bins, bool zero_allowed) {
  if (bins < 1) throw InputError(fmt::format("{} bins were asked for.", bins), "Ask for one or more.");
  if (!std::isfinite(low) || !std::isfinite(high) || low < 0 || (low == 0 && !zero_allowed) || high <= low)
    throw InputError(
        fmt::format("bins cannot reach from q = {} to {} 1/nm.", low, high),
        zero_allowed ? "Give 0 <= low < high." : "Give 0 < low < high; bins equal in ln q cannot start at 0.");
}

bool usable(const PixelMap& map, const Mask& masked, Eigen::Index i) {
  const double q = map.q_per_nm.data()[i];
  return std::isfinite(q) && (masked.size() == 0 || !masked.data()[i]);
}

void require_shape(const PixelMap& map, const Mask& masked) {
  if (map.q_per_nm.size() == 0)
    throw InputError("the pixel map is empty.", "Make it with pixel_map() for the rows and columns of the frames.");
  if (masked.size() != 0 && (masked.rows() != map.q_per_nm.rows() || masked.cols() != map.q_per_nm.cols()))
    throw InputError(fmt::format("the mask has {} x {} pixels (rows x columns) but the pixel map has {} x {}.",
                                 masked.rows(), masked.cols(), map.q_per_nm.rows(), map.q_per_nm.cols()),
                     "Use the mask of this detector, unbinned and not transposed.");
}

bool inside(double azimuth, const std::vector<Sector>& sectors) {
  // Angles from the sector's start, brought into [0, 2 pi), so that a sector may pass through +-pi.
  const auto turn = [](double angle) {
    const double wrapped = std::fmod(angle, 2 * pi);
    return wrapped < 0 ? wrapped + 2 * pi : wrapped;
  };
  return std::any_of(sectors.begin(), sectors.end(), [&](const Sector& s) {
    const double width = s.high_rad - s.low_rad;
    return width >= 2 * pi || turn(azimuth - s.low_rad) <= turn(width);
  });
}

}  // namespace

Eigen::VectorXd log_edges(double low, double high, int bins) {
  require_span(low, high, bins, false);
  Eigen::VectorXd edges = Eigen::ArrayXd::LinSpaced(bins + 1, std::log(low), std::log(high)).exp();
  edges[0] = low;  // exactly, whatever exp(log) rounds to: the outermost pixels must stay inside
  edges[bins] = high;
  check_edges(edges);
  return edges;
}

Eigen::VectorXd linear_edges(double low, double high, int bins) {
  require_span(low, high, bins, true);
  Eigen::VectorXd edges = Eigen::VectorXd::LinSpaced(bins + 1, low, high);
  check_edges(edges);
  return edges;
}

void check_edges(const Eigen::VectorXd& edges) {
  if (edges.size() < 2)
    throw InputError(fmt::format("{} bin edges were given.", edges.size()), "Give at least two, rising, in 1/nm.");
  for (Eigen::Index i = 0; i < edges.size(); ++i) {
    if (!std::isfinite(edges[i]) || edges[i] < 0)
      throw InputError(fmt::format("bin edge {} is {} 1/nm; it must be finite and not negative.", i, edges[i]),
                       "Give the edges in 1/nm.");
    if (i > 0 && edges[i] <= edges[i - 1])
      throw InputError(
          fmt::format("the bin edges do not rise: edge {} is {} after {} 1/nm.", i, edges[i], edges[i - 1]),
          "Sort the edges and remove those given twice.");
  }
}

Range usable_q(const PixelMap& map, const Mask& masked) {
  require_shape(map, masked);
  Range range{INFINITY, -INFINITY};
  for (Eigen::Index i = 0; i < map.q_per_nm.size(); ++i) {
    const double q = map.q_per_nm.data()[i];
    if (!usable(map, masked, i) || q <= 0) continue;
    range.low = std::min(range.low, q);
    range.high = std::max(range.high, q);
  }
  if (!(range.low <= range.high))
    throw InputError(fmt::format("the mask hides every one of the {} pixels.", map.q_per_nm.size()),
                     "In a mask true (non-zero) means 'do not use'; check that it is not inverted.");
  return range;
}

Eigen::VectorXd make_bins(const PixelMap& map, const Mask& masked, const BinOptions& options) {
  Range range = options.q_range_per_nm.value_or(Range{0, 0});
  if (!options.q_range_per_nm) {
    range = usable_q(map, masked);
    if (range.low == range.high) {  // one pixel: a bin around it
      range.low *= 1 - 1e-6;
      range.high *= 1 + 1e-6;
    }
  }
  return options.spacing == Spacing::log ? log_edges(range.low, range.high, options.bins)
                                         : linear_edges(range.low, range.high, options.bins);
}

BinTable bin_table(const PixelMap& map, const Mask& masked, const Eigen::VectorXd& edges,
                   const std::vector<Sector>& sectors) {
  check_edges(edges);
  const Range seen = usable_q(map, masked);  // also checks the shapes
  for (const Sector& s : sectors)
    if (!std::isfinite(s.low_rad) || !std::isfinite(s.high_rad) || s.high_rad <= s.low_rad)
      throw InputError(fmt::format("a sector reaches from {} to {} degrees.", degrees(s.low_rad), degrees(s.high_rad)),
                       "Give it anticlockwise, high above low; high may exceed 180 degrees.");
  const Eigen::Index n = edges.size() - 1;
  BinTable table{edges, BinIndex::Constant(map.q_per_nm.rows(), map.q_per_nm.cols(), -1), Eigen::VectorXi::Zero(n),
                 Eigen::VectorXd::Zero(n)};
  const double* first = edges.data();
  for (Eigen::Index i = 0; i < map.q_per_nm.size(); ++i) {
    const double q = map.q_per_nm.data()[i];
    if (!usable(map, masked, i) || q <= 0 || q < edges[0] || q > edges[n]) continue;
    if (!sectors.empty() && !inside(map.azimuth_rad.data()[i], sectors)) continue;
    const Eigen::Index bin = std::min<Eigen::Index>(std::upper_bound(first, first + n + 1, q) - first, n) - 1;
    table.index.data()[i] = static_cast<std::int32_t>(bin);
    ++table.pixels[bin];
    table.mean_q_per_nm[bin] += q;
  }
  if (table.pixels.sum() == 0)
    throw InputError(
        fmt::format("no pixel lies in the bins from q = {:.4g} to {:.4g} 1/nm{}.", edges[0], edges[n],
                    sectors.empty() ? "" : " and in the sectors"),
        fmt::format("The unmasked pixels reach from {:.4g} to {:.4g} 1/nm; check range, geometry and units.", seen.low,
                    seen.high));
  for (Eigen::Index k = 0; k < n; ++k)
    table.mean_q_per_nm[k] =
        table.pixels[k] > 0 ? table.mean_q_per_nm[k] / table.pixels[k] : 0.5 * (edges[k] + edges[k + 1]);
  return table;
}

}  // namespace sievelight
