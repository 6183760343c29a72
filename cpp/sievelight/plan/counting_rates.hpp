// SPDX-License-Identifier: GPL-3.0-or-later
/// What counting leaves of a bin's error after a given time, for a sample and the background taken off it.
/// Counts grow with the exposure, so the variance of a background-subtracted intensity is
///   u^2 = v_s / t_s + v_b / t_b + floor^2 ,
/// v_s and v_b in (curve's unit)^2 seconds, the factor of the background's transmission and scale inside v_b.
/// A summary with influence J (d summary / d intensity) has counting variance A / t_s + B / t_b with A = sum J^2 v_s,
/// B = sum J^2 v_b. With a background shared by n samples the time n t_s + t_b for a wanted variance is least at
///   t_b / t_s = sqrt(n B / A)
/// (Lagrange multipliers; common practice for two unequal counters, checked against brute force in the test).
#pragma once

#include "sievelight/curve/curve.hpp"

namespace sievelight {

struct CountingRates {
  Eigen::VectorXd sample;      // (n) v_s, variance times seconds
  Eigen::VectorXd background;  // (n) v_b; zero without a background
  Eigen::VectorXd floor;       // (n) u that no counting removes
};

/// (n) pointwise standard uncertainty. InputError for sizes that differ, exposures not above zero, negative rates.
Eigen::VectorXd predicted_u(const CountingRates& rates, double sample_s, double background_s);

/// Counting variance of one summary, times seconds.
struct SummaryRates {
  double sample = 0.0, background = 0.0;  // A, B
  double variance(double sample_s, double background_s) const;
};
/// InputError for sizes that differ.
SummaryRates summary_rates(const CountingRates& rates, const Eigen::VectorXd& influence);

/// t_b / t_s of least total time for a background shared by `samples`; 0 without a background. InputError for less than
/// one sample or a sample without noise.
double best_split(const SummaryRates& rates, int samples);

/// The beam and what stands in it.
struct ExpectedBeam {
  double photons_per_s = 0.0;  // at the sample
  double transmission = 1.0;   // of sample and cell
  double cell_transmission = 1.0;
  double thickness_mm = 1.0;
  double wavelength_nm = 0.0;
  double azimuth_share = 1.0;  // of each ring that the detector sees
  double efficiency = 1.0;     // of the detector and of what stands before it
};

/// (n) counts a second that 1/cm brings into each bin: flux T d (lambda^2 / 2 pi) q dq, the solid angle of an annulus
/// being (lambda / 2 pi)^2 2 pi q dq exactly (sin 2theta d2theta = (lambda / 2 pi)^2 q dq).
/// InputError unless the curve has bin edges and every number of the beam is possible.
Eigen::VectorXd counts_per_s(const Curve& bins, const ExpectedBeam& beam);

/// Rates of a curve (`intensity` without background) over a background, both in 1/cm of this sample.
CountingRates expected_rates(const Curve& expected, const Eigen::VectorXd& background_per_cm, const ExpectedBeam& beam,
                             double relative_floor);

}  // namespace sievelight
