// SPDX-License-Identifier: GPL-3.0-or-later
/// What an Averager gathers of one measurement before it makes the curve, and checks that its files share; for these
/// files only.
#pragma once

#include "sievelight/reduce/average.hpp"

namespace sievelight {

struct Averager::Measured {
  ExposureOptions options;
  BinSums total{0};
  Eigen::VectorXd scatter, allowed;  // (bins) of the pixels of a bin; what their counts allow
  Eigen::VectorXi pixels;            // (bins) that are used; empty before the first sums
  Eigen::VectorXd left, frame_q;     // (bins) their weight and their mean q
  std::optional<DeadTime> dead_time = {};
  bool corrected_by_file = false, exposure_known = true, monitor_known = true;
  Eigen::Index frames = 0, exposures = 0;
  double exposure_s = 0.0, monitor = 0.0;
  double amount = 0.0;  // t Phi, or the monitor
  std::vector<std::string> tally_notes = {};

  bool by_monitor() const { return options.normalise_by == NormaliseBy::monitor; }
  double flux() const { return options.flux_per_s.value_or(1.0); }
};

[[noreturn]] void refuse_shape(const std::string& what, Eigen::Index rows, Eigen::Index columns, const Image& like);

/// Union of the masks that come with the frames and the dark; empty when none masks anything.
Mask unite_masks(const std::vector<const Mask*>& masks, const Frame* dark);

}  // namespace sievelight
