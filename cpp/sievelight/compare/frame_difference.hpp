// SPDX-License-Identifier: GPL-3.0-or-later
/// A frame of a series less the start of the series, in bands of neighbouring points, with the noise of that
/// difference. A change of the sample is smooth in q and spreads over many points, noise does not: means over bands of
/// ten points or so keep the change and leave fewer degrees of freedom for the noise to hide it (measured in
/// series_test.cpp). Weights of a band are one over the points' variance averaged over all frames: with a frame's own
/// variance a low count would weigh more than a high one.
#pragma once

#include "sievelight/curve/curve.hpp"
#include "sievelight/distribution/noise.hpp"

#include <vector>

namespace sievelight {

/// The bins that every frame has: a spike or a crystal's reflection may cost one of them a bin. InputError when fewer
/// than ten have an uncertainty in every frame.
std::vector<Curve> on_common_bins(const std::vector<Curve>& curves);

/// Mean of the first `count` frames with what they share.
Curve start_of_series(const std::vector<Curve>& curves, int count);

/// Weighted means over bands of neighbouring points.
class BandMeans {
 public:
  /// @param curves on common bins; @param bands at most this many, 0 for every point by itself.
  BandMeans(const std::vector<Curve>& curves, int bands);
  Eigen::Index size() const { return static_cast<Eigen::Index>(first_.size()) - 1; }
  /// (bands, k) means of (n, k) values.
  Eigen::MatrixXd of(const Eigen::MatrixXd& values) const;
  /// (bands) standard deviations of the means, from (n) independent ones.
  Eigen::VectorXd u_of(const Eigen::VectorXd& u) const;
  /// (n, k) to (bands, k) transposed: what (bands, k) influences say about the n points.
  Eigen::MatrixXd back(const Eigen::MatrixXd& influences) const;

 private:
  std::vector<Eigen::Index> first_;  // first point of each band, and the end
  Eigen::VectorXd weight_;           // (n) adding up to one in every band
};

struct FrameDifference {
  Eigen::VectorXd d;          // (bands) frame less start
  Eigen::VectorXd reference;  // (bands) start
  Noise noise;                // of d
};

/// What both share cancels by id. A scale that both share cancels in their ratio: as a direction r (I - R) it would let
/// any difference explain itself. A scale of one curve alone is built on the reference, which scatters less.
FrameDifference frame_difference(const Curve& frame, const Curve& reference, const BandMeans& bands);

}  // namespace sievelight
