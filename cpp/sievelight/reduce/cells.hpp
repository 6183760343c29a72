// SPDX-License-Identifier: GPL-3.0-or-later
/// The averager over bins of something else than q: azimuths of an annulus, or cells of azimuth and q.
/// A pixel's place is one number; cell k holds k <= place < k + 1. Corrections, dark, dead time, masks and the
/// estimator (ratio of sums) are those of average.hpp, because it does the work: the place stands where q stands.
#pragma once

#include "sievelight/reduce/average.hpp"

namespace sievelight {

/// Place of each pixel, NaN = in no cell.
struct Cells {
  Image place;  // (rows, columns)
  int count = 0;
};

/// Averages over cells. In the result `bin` is the cell, `curve.q_per_nm` the mean place of its pixels (weighted as the
/// counts are) and `curve.intensity` S; `empty_bins` are the cells without a usable pixel. InputError and DataError as
/// average(); the caller checks that at least one unmasked pixel has a place.
Averaged average_cells(const std::vector<const Frame*>& frames, const PixelMap& map, const Mask& masked,
                       const Cells& cells, AverageOptions options = {}, const ExposureOptions& exposure = {});

/// Edges from `low` up to `low + 360` in equal steps, degrees. InputError unless bins >= 1 and low is finite.
Eigen::VectorXd azimuth_edges(int bins, double low_deg = 0.0);

/// InputError unless the edges are two or more, finite, rising and span 360 degrees at most.
void check_azimuth_edges(const Eigen::VectorXd& edges_deg);

/// Place of an azimuth among the edges, counted in bins with the fraction inside the bin; NaN when outside all.
/// 360 degrees are added or taken away as needed.
double azimuth_place(double azimuth_deg, const Eigen::VectorXd& edges_deg);

}  // namespace sievelight
