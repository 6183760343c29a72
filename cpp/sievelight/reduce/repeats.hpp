// SPDX-License-Identifier: GPL-3.0-or-later
/// Are repeated exposures of one sample repeats? Bubbles, a beam that moved, drift and radiation damage.
/// Every exposure is tested against the sum of the others: its scale (transmission, a bubble, the beam) and the shape
/// of its curve; and all of them for a trend with their number: of the scale (drift) and of the low-q part against the
/// rest (damage, sedimentation). The tests are conditional on each bin's sum over the exposures, so they need no model
/// and no many counts (repeat_tests.hpp); Holm's procedure holds the chance of any false word at alpha. The exposure
/// with the most evidence is set aside and the rest tested again, while a majority remains; a trend that explains more
/// than any single exposure is reported instead, and nothing set aside. Two exposures can differ, but not say which is
/// wrong. The normalisation's own scatter (monitor) would be found as differences of scale: it is taken from the causes
/// "exposure: ..." and "monitor: ..." of the curves unless given.
/// Source of the tests: repeat_tests.hpp; of the joint error rate: base/holm.hpp.
#pragma once

#include "sievelight/reduce/average.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

struct RepeatOptions {
  double alpha = 0.01;                          // chance of any false claim among exposures that are repeats
  std::optional<double> scale_relative_u = {};  // scatter of the normalisation; absent = from the curves' causes
};

/// One exposure against the sum of the others that are kept.
struct RepeatTest {
  std::string name;
  double scale = 1.0;  // over the others
  double scale_u = 0.0;
  double scale_probability = 1.0;  // that a repeat lies as far out
  double chi2 = 0.0;               // of the shape
  double degrees_of_freedom = 0.0;
  double shape_probability = 1.0;
  double adjusted_probability = 1.0;  // the smaller one, after Holm: compare with alpha
  bool differs = false;
  bool set_aside = false;
};

struct RepeatTrend {
  double change_percent = 0.0;  // from the first to the last exposure that is kept
  double u_percent = 0.0;
  double probability = 1.0;
  double adjusted_probability = 1.0;
  bool claimed = false;
};

struct RepeatReport {
  bool agree = true;  // nothing was claimed
  double alpha = 0.0;
  std::vector<RepeatTest> exposures;       // as given; an exposure set aside keeps the values that decided it
  std::optional<RepeatTrend> scale_trend;  // three exposures or more
  std::optional<RepeatTrend> low_q_trend;  // low-q part relative to the rest
  double low_q_below_per_nm = 0.0;         // where the low-q part ends: half of all counts
  std::vector<int> set_aside;              // exposures not to be used
  std::vector<std::string> findings;       // in words, with evidence; empty when the exposures agree
};

/// The averaged exposures, in the order in which they were taken, on the same bins.
/// InputError: fewer than two, other edges, no common bin, no counts, alpha outside (0, 1).
RepeatReport compare_repeats(const std::vector<const Averaged*>& exposures, const RepeatOptions& options = {});

}  // namespace sievelight
