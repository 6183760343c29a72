// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/oscillation.hpp"

#include "sievelight/base/units.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace sievelight {

double ripple_chi2(const Eigen::ArrayXd& q, const Eigen::ArrayXd& intensity, const Eigen::ArrayXd& variance, double q0,
                   double fwhm) {
  const Eigen::Index m = q.size();
  const Eigen::ArrayXd root = variance.sqrt().inverse(), t = (q - q0) / (2.5 * fwhm);
  const Eigen::VectorXd y = (root * intensity).matrix();
  double best = std::numeric_limits<double>::infinity();
  const auto chi2 = [&](const Eigen::ArrayXd& base, double period) {
    const Eigen::ArrayXd phase = 2.0 * pi * (q - q0) / period;
    Eigen::MatrixXd a(m, 7);
    a << base, base * t, base * t.square(), base * phase.cos(), base * t * phase.cos(), base * phase.sin(),
        base * t * phase.sin();
    return (y - a * a.colPivHouseholderQr().solve(y)).squaredNorm();
  };
  constexpr int periods = 16;
  constexpr double shortest = 1.5, longest = 2.6;
  const double step = std::pow(longest / shortest, 1.0 / (periods - 1.0));
  for (const double power : {0.0, 2.0, 4.0}) {
    const Eigen::ArrayXd base = root * (q / q0).pow(-power);
    double least = std::numeric_limits<double>::infinity(), at = fwhm;
    for (int k = 0; k < periods; ++k) {
      const double period = shortest * fwhm * std::pow(step, k), now = chi2(base, period);
      if (now < least) least = now, at = period;
    }
    for (const double finer : {-0.6, -0.3, 0.3, 0.6}) least = std::min(least, chi2(base, at * std::pow(step, finer)));
    best = std::min(best, least);
  }
  return best;
}

double advantage_over_ripple(double ripple, double peaks, int peaks_parameters, Eigen::Index m) {
  const double points = static_cast<double>(m);
  const double scatter = std::max(1.0, std::min(ripple / std::max(1.0, points - ripple_parameters),
                                                peaks / std::max(1.0, points - peaks_parameters)));
  return (ripple - peaks) / scatter + (ripple_parameters - peaks_parameters) * std::log(points);
}

}  // namespace sievelight
