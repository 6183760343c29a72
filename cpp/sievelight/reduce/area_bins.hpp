// SPDX-License-Identifier: GPL-3.0-or-later
/// Bins that share a pixel's counts by area: smooth curves at low q, where a bin is no wider than a pixel.
/// The table of shares w_ki (area_shares.hpp) is made once, and so are the sums that do not depend on the counts; then,
/// per frame (area_sums.hpp),
/// S_k = sum_i w_ki (N_i - D_i t/t_D) / sum_i w_ki h_i. Like the ratio of sums it is unbiased at any count for a flat
/// intensity. It blurs by the pixel once more than the detector did; the q of a point is that of the pixels that feed
/// it, not of the bin's middle, which takes the error of first order away. The test of this file measures it against
/// fine pixels. A pixel's counts now stand in several bins, so neighbours are correlated: the result carries the
/// diagonals of its covariance and is for pictures. It is no Curve on purpose: a Curve's own counts are independent
/// from point to point, and fits and comparisons rely on that; use average() for them. Source: derivation.
#pragma once

#include "sievelight/frames/frame.hpp"
#include "sievelight/geometry/detector.hpp"
#include "sievelight/reduce/area_shares.hpp"
#include "sievelight/reduce/average.hpp"

#include <string>
#include <vector>

namespace sievelight {

struct AreaAveraged {
  std::string name;
  Eigen::VectorXd q_per_nm;        // (n) weighted mean of the q of the pixels that feed the bin: what S belongs to
  Eigen::VectorXd q_low_per_nm;    // (n)
  Eigen::VectorXd q_high_per_nm;   // (n)
  Eigen::VectorXd intensity;       // (n) S, relative unit; only bins that hold a part of a pixel
  Eigen::VectorXd u;               // (n) from counts, of sample and dark
  Eigen::MatrixXd covariance;      // (n, m): element (k, j) is that of the points k and k + j; column 0 is u^2
  Eigen::VectorXd pixel_area;      // (n) in pixels
  Eigen::VectorXi bin;             // (n) which bin of the edges each point is
  std::vector<std::string> notes;  // the first says what the curve is for
};

/// Shares, mask and normalisations of one geometry. Takes the geometry, not the pixel map: it needs q inside pixels.
class AreaAverager {
 public:
  /// InputError as bin_table() and normalisation(); options' sectors and blur must be empty.
  AreaAverager(const DetectorGeometry& geometry, const Mask& masked, Eigen::Index rows, Eigen::Index columns,
               const Eigen::VectorXd& edges_per_nm, const AverageOptions& options = {});

  /// Counts and exposures are summed; a pixel masked in any frame is left out of all. InputError: no frame, wrong size,
  /// no exposure, normalisation by the monitor, all masked. DataError: negative or not finite counts.
  AreaAveraged average(const std::vector<const Frame*>& frames, const ExposureOptions& options = {}) const;

  const AreaShares& shares() const { return shares_; }

 private:
  Eigen::MatrixXd sums_without(const std::vector<Eigen::Index>& lost) const;

  AverageOptions options_;
  Eigen::VectorXd edges_;
  Eigen::Index rows_, columns_;
  Mask skip_;
  AreaShares shares_;
  Image weight_;          // h without exposure and flux
  Eigen::MatrixXd sums_;  // those that no frame changes, over all pixels
};

}  // namespace sievelight
