// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/bins.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/every_cpu.hpp"
#include "sievelight/base/large_pages.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/reduce/block_sums.hpp"

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

SIEVELIGHT_EVERY_CPU void find_places(const double* q, Eigen::Index n, double low, double high, double scale,
                                      std::int32_t* place) {
  for (Eigen::Index i = 0; i < n; ++i) {
    const bool in_range = (q[i] > 0) & (q[i] >= low) & (q[i] <= high);
    const double at = in_range ? (q[i] - low) * scale : -1.0;
    place[i] = static_cast<std::int32_t>(at);
  }
}

// The bin of a q between the first and the last edge. The neighbours of a place on an even grid are nearly always one
// or two bins, which saves most of a search among all edges.
class BinFinder {
 public:
  explicit BinFinder(const Eigen::VectorXd& edges)
      : edges_(edges),
        bins_(edges.size() - 1),
        places_(std::min<Eigen::Index>(4 * bins_, 1 << 20)),
        first_(static_cast<std::size_t>(places_ + 2)) {
    scale_ = static_cast<double>(places_) / (edges[bins_] - edges[0]);
    const double* begin = edges.data();
    for (Eigen::Index k = 0; k <= places_ + 1; ++k) {
      // A little below the place, whatever the rounding of place().
      const double q = edges[0] + (static_cast<double>(k) - 1e-6) / scale_;
      first_[static_cast<std::size_t>(k)] = std::max<Eigen::Index>(
          0, std::min<Eigen::Index>(std::upper_bound(begin, begin + bins_ + 1, q) - begin, bins_) - 1);
    }
  }
  /// Places of n pixels on the grid; -1 where q is not between the edges, not above zero or not finite.
  void places(const double* q, Eigen::Index n, std::int32_t* place) const {
    find_places(q, n, edges_[0], edges_[bins_], scale_, place);
  }
  /// The bin of a q at such a place.
  Eigen::Index bin(std::int32_t place, double q) const {
    const double* begin = edges_.data();
    Eigen::Index bin = first_[static_cast<std::size_t>(place)];
    for (int step = 0; step < 4 && bin + 1 < bins_; ++step, ++bin)
      if (q < begin[bin + 1]) return bin;
    if (bin + 1 >= bins_) return bins_ - 1;
    return std::min<Eigen::Index>(std::upper_bound(begin + bin, begin + bins_ + 1, q) - begin, bins_) - 1;
  }

 private:
  const Eigen::VectorXd& edges_;
  Eigen::Index bins_, places_;
  std::vector<Eigen::Index> first_;
  double scale_ = 0.0;
};

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
  const std::vector<Eigen::Index> ends = pixel_blocks(map.q_per_nm.rows(), map.q_per_nm.cols());
  std::vector<Range> parts(ends.size() - 1, Range{INFINITY, -INFINITY});
  parallel_for(parts.size(), [&](std::size_t k) {
    double low = INFINITY, high = -INFINITY;
    for (Eigen::Index i = ends[k]; i < ends[k + 1]; ++i) {
      const double q = map.q_per_nm.data()[i];
      if (!usable(map, masked, i) || q <= 0) continue;
      low = std::min(low, q);
      high = std::max(high, q);
    }
    parts[k] = {low, high};
  });
  Range range{INFINITY, -INFINITY};
  for (const Range& part : parts) range = {std::min(range.low, part.low), std::max(range.high, part.high)};
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
  require_shape(map, masked);
  for (const Sector& s : sectors)
    if (!std::isfinite(s.low_rad) || !std::isfinite(s.high_rad) || s.high_rad <= s.low_rad)
      throw InputError(fmt::format("a sector reaches from {} to {} degrees.", degrees(s.low_rad), degrees(s.high_rad)),
                       "Give it anticlockwise, high above low; high may exceed 180 degrees.");
  const Eigen::Index n = edges.size() - 1, columns = map.q_per_nm.cols();
  BinTable table{edges, BinIndex(map.q_per_nm.rows(), columns), Eigen::VectorXi::Zero(n), Eigen::VectorXd::Zero(n)};
  prefer_large_pages(table.index);
  const BinFinder finder(edges);
  const double* binned_by = map.binned_by().data();
  const auto add = [&](Eigen::Index first, Eigen::Index count, Eigen::MatrixXd& part) {
    std::int32_t place[longest_strip];
    for_strips(first, count, [&](Eigen::Index begin, Eigen::Index some) {
      finder.places(binned_by + begin, some, place);
      for (Eigen::Index i = 0; i < some; ++i) {
        const Eigen::Index pixel = begin + i;
        std::int32_t bin = -1;
        if (place[i] >= 0 && (masked.size() == 0 || !masked.data()[pixel]) &&
            (sectors.empty() || inside(map.azimuth_rad.data()[pixel], sectors))) {
          const double q = binned_by[pixel];
          bin = static_cast<std::int32_t>(finder.bin(place[i], q));
          double* to = part.data() + 2 * bin;
          to[0] += 1;
          to[1] += q;
        }
        table.index.data()[pixel] = bin;
      }
    });
  };
  const Eigen::MatrixXd sums = sum_blocks(map.q_per_nm.rows(), columns, 2, n, add);
  table.pixels = sums.row(0).cast<int>();
  table.mean_q_per_nm = sums.row(1);
  if (table.pixels.sum() == 0) {
    const Range seen = usable_q(map, masked);  // refuses a mask that hides all
    throw InputError(
        fmt::format("no pixel lies in the bins from q = {:.4g} to {:.4g} 1/nm{}.", edges[0], edges[n],
                    sectors.empty() ? "" : " and in the sectors"),
        fmt::format("The unmasked pixels reach from {:.4g} to {:.4g} 1/nm; check range, geometry and units.", seen.low,
                    seen.high));
  }
  for (Eigen::Index k = 0; k < n; ++k)
    table.mean_q_per_nm[k] =
        table.pixels[k] > 0 ? table.mean_q_per_nm[k] / table.pixels[k] : 0.5 * (edges[k] + edges[k + 1]);
  return table;
}

}  // namespace sievelight
