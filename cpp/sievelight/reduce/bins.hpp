// SPDX-License-Identifier: GPL-3.0-or-later
/// Bins in q, and the table that says which bin each pixel belongs to.
/// Edges are n + 1 rising values in 1/nm; bin k holds edge[k] <= q < edge[k + 1], the last one its upper edge too.
/// Start at make_bins() for edges that suit a detector and its mask, then bin_table().
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/base/range.hpp"
#include "sievelight/geometry/pixel_map.hpp"

#include <Eigen/Core>
#include <cstdint>
#include <optional>
#include <vector>

namespace sievelight {

enum class Spacing { log, linear };

struct BinOptions {
  int bins = 200;
  Spacing spacing = Spacing::log;
  std::optional<Range> q_range_per_nm = {};  // empty: from the first to the last unmasked pixel
};

/// n + 1 edges in equal steps of ln q (log) or q (linear). InputError unless 0 < low < high (linear: 0 <= low) and
/// bins >= 1.
Eigen::VectorXd log_edges(double q_low_per_nm, double q_high_per_nm, int bins);
Eigen::VectorXd linear_edges(double q_low_per_nm, double q_high_per_nm, int bins);

/// InputError unless there are at least two edges, finite, not negative and rising.
void check_edges(const Eigen::VectorXd& edges_per_nm);

/// The smallest and largest q of the pixels that are not masked (the beam point itself, q = 0, left out): q_min is just
/// outside the mask. An empty mask masks nothing. InputError when the mask hides every pixel or has another shape.
Range usable_q(const PixelMap& map, const Mask& masked);

/// Edges over the usable q of a detector, or over the range in `options`.
Eigen::VectorXd make_bins(const PixelMap& map, const Mask& masked, const BinOptions& options = {});

/// Azimuths from `low_rad` anticlockwise (from +x towards +y) to `high_rad`; may pass through +-pi.
struct Sector {
  double low_rad = 0.0;
  double high_rad = 0.0;
};

/// (rows, columns) bin of each pixel, -1 = unused.
using BinIndex = Eigen::Array<std::int32_t, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

/// Made once for a geometry, a mask and edges; used for every frame.
struct BinTable {
  Eigen::VectorXd edges_per_nm;   // (n + 1)
  BinIndex index;                 // (rows, columns)
  Eigen::VectorXi pixels;         // (n) pixels in each bin
  Eigen::VectorXd mean_q_per_nm;  // (n) plain mean of their q; the middle of the bin where it is empty
};

/// Sorts the unmasked pixels (and, where sectors are given, only those inside any of them) into the bins.
/// InputError when the mask has another shape, or hides everything, or no pixel lies in the range (both ranges named).
BinTable bin_table(const PixelMap& map, const Mask& masked, const Eigen::VectorXd& edges_per_nm,
                   const std::vector<Sector>& sectors = {});

}  // namespace sievelight
