// SPDX-License-Identifier: GPL-3.0-or-later
/// Curves of known distributions for the tests, summed sphere by sphere on a size grid of their own (no kernel used).
#pragma once

#include "sievelight/base/units.hpp"
#include "sievelight/curve/curve.hpp"

#include <cmath>
#include <functional>
#include <random>

namespace sievelight::synthetic {

inline constexpr double contrast_per_cm2 = 1.864e11;

/// Volume per ln D of a log-normal with the given volume median.
inline std::function<double(double)> log_normal(double median_nm, double sigma) {
  return [=](double diameter_nm) {
    const double z = std::log(diameter_nm / median_nm) / sigma;
    return std::exp(-0.5 * z * z) / (sigma * std::sqrt(2 * pi));
  };
}

struct Setup {
  double q_low = 0.08, q_high = 1.7;
  int bins = 120;
  double volume_fraction = 0.1;  // of a distribution whose integral over ln D is 1
  double background = 0.05;      // 1/cm
  double noise = 0.02;           // relative, the same at every point, plus `floor`
  double floor = 0.0;            // 1/cm
  double power_law_k = 0.0;      // 1/cm / nm^4
};

/// Sphere by the textbook formula; only used where q R is not small.
inline double form_factor(double x) {
  if (x < 1e-2) return 1 - x * x / 5;
  const double f = 3 * (std::sin(x) - x * std::cos(x)) / (x * x * x);
  return f * f;
}

/// Noise-free bin averages, and sigma as the private uncertainty.
inline Curve ideal(const std::function<double(double)>& volume_per_ln_d, const Setup& s) {
  Curve c;
  c.unit = IntensityUnit::per_cm;
  for (Eigen::VectorXd* v : {&c.q_per_nm, &c.intensity, &c.private_u, &c.q_low_per_nm, &c.q_high_per_nm})
    v->resize(s.bins);
  const double ratio = std::pow(s.q_high / s.q_low, 1.0 / s.bins), du = 0.004;
  const int looks = 6;
  for (int i = 0; i < s.bins; ++i) {
    const double low = s.q_low * std::pow(ratio, i), high = low * ratio;
    double sum = 0, norm = 0;
    for (int k = 0; k < looks; ++k) {
      const double q = low + (high - low) * (k + 0.5) / looks;
      double seen = s.power_law_k / std::pow(q, 4);
      for (double u = std::log(0.5); u < std::log(200.0); u += du) {
        const double d = std::exp(u);
        seen += contrast_per_cm2 * contrast_per_cm2 * 1e-21 * s.volume_fraction * volume_per_ln_d(d) * du * pi / 6 * d *
                d * d * form_factor(0.5 * q * d);
      }
      sum += q * seen;
      norm += q;
    }
    c.q_per_nm[i] = std::sqrt(low * high);
    c.q_low_per_nm[i] = low;
    c.q_high_per_nm[i] = high;
    c.intensity[i] = sum / norm + s.background;
    c.private_u[i] = std::hypot(s.noise * std::abs(c.intensity[i]), s.floor);
  }
  return c;
}

/// The same with independent normal noise.
inline Curve noisy(Curve c, unsigned seed) {
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  for (Eigen::Index i = 0; i < c.size(); ++i) c.intensity[i] += c.private_u[i] * normal(random);
  return c;
}

}  // namespace sievelight::synthetic
