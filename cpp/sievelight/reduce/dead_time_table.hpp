// SPDX-License-Identifier: GPL-3.0-or-later
/// True counts for every recorded number that is common, worked out once for an exposure time: a pixel then costs a
/// look instead of a division (or a Lambert function).
#pragma once

#include "sievelight/reduce/dead_time.hpp"

#include <cstddef>
#include <vector>

namespace sievelight {

class DeadTimeTable {
 public:
  /// What a recorded number stands for, side by side as the sums take it.
  struct Entry {
    double recorded = 0.0, counts = 0.0, variance = 0.0, per_dead_time = 0.0;
  };

  DeadTimeTable() = default;
  DeadTimeTable(const DeadTime& dead_time, double exposure_s);

  const DeadTime& dead_time() const { return dead_time_; }
  double exposure_s() const { return exposure_s_; }
  /// Entries for the recorded numbers 0 ... size() - 1.
  std::size_t size() const { return entries_.size(); }
  const Entry* data() const { return entries_.data(); }
  /// Numbers below this differ from their true counts by the second power alone, tau n^2/t (and 2 tau n^2/t in their
  /// variance, n^2/t in the derivative): the third is less than 1e-12 of the counts.
  std::size_t quadratic_below() const { return quadratic_below_; }
  /// What pixels with the sums `sum` and `square` of such numbers stand for.
  Entry of_moments(double sum, double square) const;
  /// For any number; raises as correct_dead_time().
  Entry operator()(double recorded) const;
  /// From the table where it stands there.
  Entry operator()(std::size_t recorded) const {
    return recorded < entries_.size() ? entries_[recorded] : (*this)(static_cast<double>(recorded));
  }
  /// Adds what `n` recorded numbers stand for to the true counts and their variance; false, and nothing is added, when
  /// one of them does not stand in the table. At most most_common at a time.
  bool add_common(const double* recorded, std::size_t n, double* counts, double* variance) const;
  static constexpr std::size_t most_common = 512;

 private:
  DeadTime dead_time_;
  double exposure_s_ = 0.0;
  std::size_t quadratic_below_ = 0;
  std::vector<Entry> entries_;
};

}  // namespace sievelight
