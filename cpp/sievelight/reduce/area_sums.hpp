// SPDX-License-Identifier: GPL-3.0-or-later
/// Sums of frames' counts over bins that share pixels by area: the innermost loop of an area-weighted average.
/// A pixel of n counts and the shares w0, w1, w2 adds n [w0, w1, w2] and n [w0 w1, w1 w2, w2 w0] to the row of its
/// first bin, two steps of four doubles each. The sums of the bins and how each goes with the next follow from the rows
/// afterwards: since w0 + w1 + w2 = 1, w0^2 = w0 - w0 w1 - w0 w2, and so on. Blocks of pixels that do not depend on the
/// number of threads are joined in order, so the sums are the same bit for bit on any number of them.
#pragma once

#include "sievelight/reduce/area_shares.hpp"
#include "sievelight/reduce/area_strips.hpp"

#include <vector>

namespace sievelight {

struct AreaSums {
  Eigen::VectorXd net;             // (bins) sum of w (n - s D)
  Eigen::VectorXd recorded;        // (bins) sum of w times the recorded counts
  Eigen::MatrixXd band;            // (bins, 3 or more) element (k, j): sum of w_k w_(k + j) (var n + s^2 D)
  std::vector<Eigen::Index> lost;  // pixels of the bins that a frame's or the dark's mask hides, rising
};

/// `skip`: pixels that are never looked at. DataError: a pixel that no mask hides holds a negative or not finite
/// number. InputError: a rate that the dead time does not allow.
AreaSums sum_areas(const AreaShares& shares, const Mask& skip, const AreaTerms& terms);

}  // namespace sievelight
