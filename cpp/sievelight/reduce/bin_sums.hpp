// SPDX-License-Identifier: GPL-3.0-or-later
/// The one pass over the pixels of a frame: sums per bin.
/// Blocks of rows are summed apart and joined in order, so the result is the same whatever the number of threads.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/frames/frame.hpp"
#include "sievelight/reduce/pixel_sums.hpp"

#include <Eigen/Core>
#include <limits>
#include <string>

namespace sievelight {

/// (bins) each, of one frame or of several.
struct BinSums {
  Eigen::VectorXd recorded;                      // N
  Eigen::VectorXd counts;                        // N after the dead time
  Eigen::VectorXd variance;                      // of them
  Eigen::VectorXd per_dead_time;                 // d counts / d tau, 1/s; 0 without dead time
  Eigen::VectorXd dark;                          // N_D as recorded in the dark frame
  Eigen::VectorXd square, expected;              // sum r^2/w and sum Var r / w, r = N - D t/t_D, w the pixel's weight
  Eigen::VectorXd lost_weight, lost_weighted_q;  // of pixels masked beyond the table
  Eigen::VectorXi lost;                          // how many
  double largest_load = 0.0;                     // n tau

  explicit BinSums(Eigen::Index bins);
};

/// What the pass needs to know; what is pointed to must outlive it.
struct PixelInputs {
  const Slots* slots = nullptr;
  const Image* weight = nullptr;
  const Eigen::ArrayXf* q_per_nm = nullptr;        // (pixels)
  const Mask* skip = nullptr;                      // beyond the table; or null
  const Frame* dark = nullptr;                     // or null
  Eigen::VectorXd dark_sums = {};                  // (bins) from sum_dark(), for the dark
  const DeadTimeTable* dead_time = nullptr;        // for the frame's exposure; or null
  const Eigen::ArrayXf* inverse_weight = nullptr;  // (pixels) 1/w: fills square and expected; or null
  std::string name = {};                           // for messages
};

/// One exposure's numbers as they are stored, row by row.
struct StoredCounts {
  StoredType type = {};
  const unsigned char* numbers = nullptr;
  double saturation = std::numeric_limits<double>::infinity();
};

/// Terms of the sums of a frame of this exposure.
SumTerms sum_terms(const PixelInputs& inputs, double exposure_s);

/// DataError for an unmasked pixel with negative or not finite counts; raises as correct_dead_time().
BinSums sum_frame(const Frame& frame, const PixelInputs& inputs);
/// The same for stored numbers; what is no count (count_rules.hpp) is lost, and tallied where `tally` is not null.
BinSums sum_stored(const StoredCounts& stored, double exposure_s, const PixelInputs& inputs,
                   CountTally* tally = nullptr);

/// (bins) the dark's counts, of the pixels that are not skipped.
Eigen::VectorXd sum_dark(const PixelInputs& inputs);

/// Sums that have ended, as vectors; the dark's without the pixels that this frame has lost.
BinSums collect(const PixelSums& sums, const PixelInputs& inputs);

}  // namespace sievelight
