// SPDX-License-Identifier: GPL-3.0-or-later
/// How far apart two batches' size distributions are as a whole: Wasserstein distance of their mean cumulatives, what
/// noise alone would make of it, and the distance with that bias removed.
/// |F - G| is positive even between equal batches, so the raw distance is biased upwards. Bootstrap of both levels: the
/// mean of a batch of n samples moves by sum_j z_j (F_j - mean) / sqrt(n (n - 1)), z normal, times sqrt((n - 1)/chi^2)
/// because so few samples hardly know their own scatter (a Student's t of n - 1 degrees along every direction); where
/// the samples scatter less than their own posterior draws, or where there is one sample only, it moves by the mean of
/// draws instead. D* is the distance after such moves, and value = max(0, 2 D - median D*) (bootstrap estimate of bias:
/// B. Efron, R. Tibshirani, An Introduction to the Bootstrap, 1993, ch. 10, from memory). W1 obeys the triangle
/// inequality, so the true distance lies within the size of the moves alone of D: interval D -+ their 95 % point, cut
/// at zero, which is exact for shifts and equal batches and wide for other changes. (The bootstrap's own interval 2 D -
/// q fails near zero.) Under equal batches the moves alone make the distances that `noise_nm` and `p_equal` speak of.
/// Permuting samples cannot reach 0.05 with two or three a side, hence not that. Errors that all samples share cancel
/// only as far as the samples' scatter is used; a batch moved by its draws counts them in full, which is wider.
#pragma once

#include "sievelight/base/range.hpp"

#include <Eigen/Core>
#include <cstdint>
#include <vector>

namespace sievelight {

struct DistanceOptions {
  int resamples = 2000;
  std::uint64_t seed = 1;
};

struct DistributionDistance {
  double raw_nm = 0.0;    // W1 of the mean cumulatives
  double value_nm = 0.0;  // noise bias removed, >= 0
  Range interval95_nm;
  double noise_nm = 0.0;  // median distance that equal batches with this scatter would show
  double p_equal = 1.0;   // share of such distances that reach the raw one
  int samples_a = 0, samples_b = 0;
};

/// @param diameter_nm (m) rising. @param a, b one matrix (m, draws) a sample: draws of its cumulative at these sizes.
/// InputError for an empty batch, sizes that differ, or fewer than 20 draws.
DistributionDistance distribution_distance(const Eigen::VectorXd& diameter_nm, const std::vector<Eigen::MatrixXd>& a,
                                           const std::vector<Eigen::MatrixXd>& b, const DistanceOptions& options = {});

}  // namespace sievelight
