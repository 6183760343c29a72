// SPDX-License-Identifier: GPL-3.0-or-later
/// Spikes: pixels of one exposure far above what they count in the other exposures (cosmic hits, sparks of the sensor).
/// Given the sum T of a pixel over the exposures, its counts in one are binomial with that exposure's share, whatever
/// the pattern: an exact test at any count, without smoothing and without neighbours. A pixel is a spike where the
/// chance of that many counts or more is at most false_per_exposure / (pixels tested). Shares follow the exposures'
/// sums of counts without spikes, so that a beam that fades does not make spikes. remove_spikes() masks them. The
/// averager then leaves such a pixel out of all exposures, which drops it whole: leaving out only its bright moment
/// would bias it, this does not. Two exposures tell little: against zero counts in the other a spike needs log2(pixels
/// / false_per_exposure) counts (27 for a megapixel); five exposures need 12. A sample that changes between exposures
/// has pixels that change: see repeats.hpp first. Source: conditional distribution of Poisson counts given their sum
/// (textbook: J. Przyborowski, H. Wilenski, Biometrika 31 (1940) 313, from memory).
#pragma once

#include "sievelight/frames/frame.hpp"

#include <Eigen/Core>
#include <string>
#include <vector>

namespace sievelight {

struct SpikeOptions {
  double false_per_exposure = 0.01;  // pixels without a spike that are expected to be flagged in one exposure
};

struct Spike {
  int exposure = 0;
  Eigen::Index row = 0, column = 0;
  double counts = 0;
  double expected = 0;     // from the same pixel in the other exposures
  double probability = 0;  // of so many counts or more without a spike
};

struct SpikeReport {
  std::vector<Mask> masks;    // one an exposure, true = spike
  std::vector<Spike> spikes;  // by exposure, then by row and column
  Eigen::VectorXd share;      // (exposures) of the counts without spikes
  Eigen::Index pixels = 0;    // tested in each exposure: those that no exposure masks
  std::vector<std::string> notes;
};

/// InputError: fewer than two exposures, exposures that are sums of several, unequal sizes, all masked, or a target
/// outside (0, 1]. DataError: an unmasked pixel with negative or not finite counts.
SpikeReport find_spikes(const std::vector<const Frame*>& frames, const SpikeOptions& options = {});

/// The exposures with the spikes of each added to its mask. Raises as find_spikes().
std::vector<Frame> remove_spikes(const std::vector<const Frame*>& frames, const SpikeOptions& options = {});

}  // namespace sievelight
