// SPDX-License-Identifier: GPL-3.0-or-later
/// Counts that a counter lost while it was busy.
/// Non-paralysable: n = m / (1 - m tau); paralysable: m = n exp(-n tau), n = -W0(-m tau) / tau (Lambert W, low branch).
/// Variance of the true counts: N / (1 - m tau)^2, and N (1 - 2 m tau) exp(2 n tau) / (1 - n tau)^2: the counter itself
/// makes the recorded counts more regular than Poisson.
/// Source: G. F. Knoll, Radiation Detection and Measurement, chapter on counting statistics (models); the variances are
/// those of the renewal process (J. W. Mueller, Nucl. Instrum. Methods 112 (1973) 47, from memory), carried through the
/// correction.
/// Per pixel and per single exposure: a sum of exposures with different rates has no one rate to correct.
#pragma once

namespace sievelight {

enum class DeadTimeModel { non_paralyzable, paralyzable };

struct DeadTime {
  double dead_time_s = 0.0;
  DeadTimeModel model = DeadTimeModel::non_paralyzable;
  double u_s = 0.0;  // standard uncertainty: coherent cause "dead time"
};

/// True rate from the recorded one, 1/s. InputError at or beyond the largest rate the model can record (1/tau, or
/// 1/(e tau)), and for a negative or not finite dead time.
double true_rate(double recorded_per_s, const DeadTime& dead_time);
/// Recorded rate that a true one gives, 1/s.
double recorded_rate(double true_per_s, const DeadTime& dead_time);

struct TrueCounts {
  double counts = 0.0;
  double variance = 0.0;
  double per_dead_time = 0.0;  // d counts / d tau, 1/s
};

/// True counts of one pixel in one exposure, with their variance. Raises as true_rate().
TrueCounts correct_dead_time(double recorded, double exposure_s, const DeadTime& dead_time);

/// For the paralysable counter a recorded rate has two true rates; this is n tau above which the low one is a guess
/// that a brighter pixel would also give (the peak of the recorded rate stands at n tau = 1).
inline constexpr double two_valued_above = 0.5;

}  // namespace sievelight
