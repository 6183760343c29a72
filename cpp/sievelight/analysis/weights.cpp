// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/weights.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace sievelight {
namespace {

// Straight line through the values of the m nearest points, read at each point: trends pass, up to the ends.
Eigen::ArrayXd line_through_neighbours(const Eigen::ArrayXd& y, Eigen::Index most) {
  const Eigen::Index n = y.size(), m = std::min(most, n);
  const Eigen::ArrayXd x =
      Eigen::ArrayXd::LinSpaced(m, -0.5 * static_cast<double>(m - 1), 0.5 * static_cast<double>(m - 1));
  Eigen::ArrayXd out(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const Eigen::Index low = std::clamp<Eigen::Index>(i - m / 2, 0, n - m);
    const auto near = y.segment(low, m);
    out[i] = near.mean() + (m > 2 ? (x * near).sum() / x.square().sum() * x[i - low] : 0.0);
  }
  return out;
}

// Variance (n) of a curve that does not say: each point's distance from the line through its two neighbours (in log I
// against log q where all are positive), squared and divided by what unit noise would give it; a line through the
// logarithms of 41 of them. At least (1e-4 I)^2, below which the distance is the curve's own bend.
Eigen::ArrayXd guess_variance(const Curve& curve) {
  const Eigen::Index n = curve.size();
  const Eigen::ArrayXd& y = curve.intensity.array();
  const double floor = 1e-12 * y.square().maxCoeff();
  Eigen::ArrayXd least = 1e-8 * y.square().max(floor > 0.0 ? floor : 1.0);
  if (n < 3) return least;
  Eigen::ArrayXd square(n);
  for (Eigen::Index i = 1; i + 1 < n; ++i) {
    const bool positive = (y.segment(i - 1, 3) > 0.0).all();
    const auto x = [&](Eigen::Index k) { return positive ? std::log(curve.q_per_nm[k]) : curve.q_per_nm[k]; };
    const double b = (x(i) - x(i - 1)) / (x(i + 1) - x(i - 1)), a = 1.0 - b;
    const double between =
        positive ? std::exp(a * std::log(y[i - 1]) + b * std::log(y[i + 1])) : a * y[i - 1] + b * y[i + 1];
    square[i] = std::pow(y[i] - between, 2) / (1.0 + a * a + b * b);
  }
  square[0] = square[1], square[n - 1] = square[n - 2];
  constexpr double mean_of_log = 1.2703628454614782;  // minus the mean of the logarithm of a squared normal number
  return (line_through_neighbours(square.max(1e-4 * least).log(), 41) + mean_of_log).exp().max(least);
}

}  // namespace

PointWeights point_weights(const Curve& curve) {
  const Eigen::Index n = curve.size();
  PointWeights out;
  out.variance = pointwise_u(curve).array().square();
  const Eigen::Index without = (out.variance.array() == 0.0).count();
  if (without == n && n > 0) {
    out.known = false;
    out.variance = guess_variance(curve);
  } else if (without > 0) {
    Eigen::Index first = 0;
    while (out.variance[first] != 0.0) ++first;
    throw InputError(fmt::format("{} of {} points have no uncertainty of their own (the first at q = {:.4g} 1/nm).",
                                 without, n, curve.q_per_nm[first]),
                     "Give every point its standard uncertainty, or none; a bin of zero counts has one, too.");
  }
  out.smooth = line_through_neighbours(out.variance.array().log(), 7).exp();
  return out;
}

double scatter_of_residuals(const Eigen::ArrayXd& residual_over_guess, int degrees_of_freedom) {
  const Eigen::Index m = residual_over_guess.size();
  const double sum = residual_over_guess.square().sum();
  if (!(sum > 0.0) || degrees_of_freedom < 1) return 0.0;
  const double r = (residual_over_guess.head(m - 1) * residual_over_guess.tail(m - 1)).sum() / sum;
  return sum / degrees_of_freedom * std::max(1.0, (1.0 + r) / (1.0 - r));
}

}  // namespace sievelight
