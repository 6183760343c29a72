// SPDX-License-Identifier: GPL-3.0-or-later
/// Intensity against azimuth in an annulus of q: the estimator of average.hpp over bins of azimuth.
/// S = sum(N - D t/t_D) / sum(h) of a bin, unbiased at any count; all corrections as in average(). Azimuth counts from
/// +x towards +y. Start at azimuthal_profile(); what the profile says about orientation is in analysis/anisotropy.hpp.
#pragma once

#include "sievelight/reduce/cells.hpp"

namespace sievelight {

struct AzimuthalProfile {
  std::string name;
  Range q_range_per_nm;           // of the annulus, as asked for
  Eigen::VectorXd azimuth_deg;    // (n) mean of the bin's pixels, weighted as the intensity is
  Eigen::VectorXd low_deg;        // (n) edges of the bin
  Eigen::VectorXd high_deg;       // (n)
  Eigen::VectorXd intensity;      // (n) S, relative unit; only bins that hold pixels
  Eigen::VectorXd u;              // (n) standard uncertainty from all causes that differ from point to point
  Eigen::VectorXd counts;         // (n) sum of the recorded counts
  Eigen::VectorXd dark_counts;    // (n) the dark's share in them
  Eigen::VectorXd normalisation;  // (n) sum of h
  Eigen::VectorXi pixels;         // (n)
  std::vector<int> empty_bins;    // bins of the edges without a usable pixel: gaps
  std::vector<StepEffect> steps;
  std::vector<std::string> notes;
};

/// `masked` may be empty. The q range is closed; a pixel belongs to the annulus by its centre.
/// InputError: impossible edges or range, no unmasked pixel in the annulus, and as average(). DataError as average().
AzimuthalProfile azimuthal_profile(const std::vector<const Frame*>& frames, const PixelMap& map, const Mask& masked,
                                   const Range& q_range_per_nm, const Eigen::VectorXd& edges_deg,
                                   const AverageOptions& options = {}, const ExposureOptions& exposure = {});

}  // namespace sievelight
