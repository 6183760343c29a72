// SPDX-License-Identifier: GPL-3.0-or-later
/// How many samples a batch a *new* experiment needs, so that a pair is decided.
/// Adding samples to an undecided pair until a verdict appears inflates its error (to 8-17 % in simulation); a number
/// fixed beforehand does not. For each number n the experiment is simulated: the difference is normal with variance
/// 2 (sd^2 + p) / n + shared^2, each batch's scatter follows its chi^2, and the verdict is the one of batches.hpp
/// (Welch, two one-sided tests). The least n that decides with the wanted power is returned.
/// With several looks planned (sequential.hpp) n is the number at the last one; they stand at evenly spaced numbers of
/// samples, two at least, every sample is drawn, and the experiment ends at the first verdict.
#pragma once

#include "sievelight/compare/sequential.hpp"

#include <optional>
#include <vector>

namespace sievelight {

struct SizingInput {
  double between_sd = 0.0;  // scatter between samples, on the scale that is compared (logarithm: relative)
  /// Degrees of freedom that between_sd rests on; it is then raised to its 80 % upper limit, because few samples hardly
  /// know it and a plan on a scatter that came out small by luck fails half the time (R. H. Browne, Stat. Med. 14
  /// (1995) 1933, from memory). 0: known.
  double scatter_degrees = 0.0;
  double own_u = 0.0;       // measurement error of one sample that it shares with no other
  double shared_u = 0.0;    // of the difference: what scatter does not show and more samples do not narrow
  double difference = 0.0;  // that is supposed to be true
  double margin = 0.05;     // on the same scale: limits -margin and +margin
  double alpha = 0.05;
  double power = 0.8;
  int most_samples = 60;
  int looks = 1;  // planned beforehand
  Spending spending = Spending::obrien_fleming;
};

struct SizingStep {
  int samples = 0;                                      // a batch
  double equivalent = 0, different = 0, undecided = 0;  // probabilities
  double mean_samples = 0;                              // a batch, when it ends at the first verdict
  std::vector<int> looks{};                             // samples a batch at each look
};

struct Sizing {
  std::optional<int> samples;      // a batch; empty where even `most_samples` do not reach the power
  std::vector<SizingStep> steps;   // 2 samples a batch and up, to the answer or to the most
  bool limited_by_shared = false;  // the part that samples do not narrow already forbids it
};

/// InputError for negative numbers, a margin, alpha or power out of range, or nothing that varies.
Sizing size_experiment(const SizingInput& input);

}  // namespace sievelight
