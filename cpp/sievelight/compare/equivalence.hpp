// SPDX-License-Identifier: GPL-3.0-or-later
/// Two one-sided tests of equivalence: is a difference surely smaller than what matters?
/// For limits [low, high], t_L = (d - low) / SE and t_U = (d - high) / SE; p = max(P(T > t_L), P(T < t_U)). Equivalent
/// at level alpha exactly where the 1 - 2 alpha interval lies inside the limits. "No difference found" is another
/// thing: p_zero, the ordinary two-sided test. Source: D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657-680;
/// unequal variances: B. L. Welch, Biometrika 34 (1947) 28, with F. E. Satterthwaite's degrees of freedom, Biometrics
/// Bull. 2 (1946) 110 (pages from memory).
#pragma once

#include "sievelight/base/range.hpp"

#include <Eigen/Core>

namespace sievelight {

enum class TwoSamples { welch, pooled, paired };

struct EquivalenceTest {
  double difference = 0.0;
  double standard_error = 0.0;
  double degrees_of_freedom = 0.0;  // infinity where the standard error is known
  Range limits;
  double alpha = 0.05;
  double t_low = 0.0, t_high = 0.0;  // (d - low) / SE, (d - high) / SE
  double p_low = 0.0, p_high = 0.0;  // one-sided p against d <= low and against d >= high
  double p_equivalent = 0.0;         // max of the two
  /// p against "the true difference lies within the limits": 1 - p_low or 1 - p_high, whichever is smaller.
  double p_different = 0.0;
  double t_zero = 0.0, p_zero = 0.0;  // two-sided test of no difference
  Range verdict_interval;             // 1 - 2 alpha
  Range interval95;
  bool equivalent = false;   // verdict_interval inside the limits
  bool different = false;    // verdict_interval wholly outside
  bool significant = false;  // 1 - alpha interval excludes zero
};

/// From a difference with its standard error and degrees of freedom. Raises InputError unless low < high, 0 < alpha <
/// 0.5 and the standard error is positive and finite.
EquivalenceTest equivalence_test(double difference, double standard_error, double degrees_of_freedom, Range limits,
                                 double alpha = 0.05);

/// From two samples: difference mean(b) - mean(a). Raises InputError for fewer than two values, NaN, or unequal numbers
/// of pairs.
EquivalenceTest equivalence_test(const Eigen::VectorXd& a, const Eigen::VectorXd& b, Range limits,
                                 TwoSamples kind = TwoSamples::welch, double alpha = 0.05);

}  // namespace sievelight
