// SPDX-License-Identifier: GPL-3.0-or-later
/// The one pass over the pixels of a frame: sums per bin.
/// Blocks of rows are summed apart and joined in order, so the result is the same whatever the number of threads.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/frames/frame.hpp"
#include "sievelight/reduce/bins.hpp"
#include "sievelight/reduce/dead_time.hpp"

#include <Eigen/Core>
#include <optional>
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
  void add(const BinSums& other);
};

/// What the pass needs to know; references must outlive it.
struct PixelInputs {
  const BinIndex& index;
  const Image& weight;
  const Image& q_per_nm;
  const Mask& skip;   // beyond the table; may be empty
  const Frame* dark;  // or null
  const std::optional<DeadTime>& dead_time;
  bool check_scatter;       // fill square and expected
  const std::string& name;  // for messages
};

/// DataError for an unmasked pixel with negative or not finite counts; raises as correct_dead_time().
BinSums sum_frame(const Frame& frame, const PixelInputs& inputs, Eigen::Index bins);

}  // namespace sievelight
