// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/weights.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace sievelight {
namespace {

constexpr Eigen::Index width = 7;

// Straight line through log(v) of the seven nearest points, read at each point: trends pass, up to the ends.
Eigen::VectorXd smooth_over_neighbours(const Eigen::VectorXd& v) {
  const Eigen::Index n = v.size(), m = std::min(width, n);
  const Eigen::VectorXd log_v = v.array().log();
  Eigen::VectorXd out(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const Eigen::Index low = std::clamp<Eigen::Index>(i - m / 2, 0, n - m);
    const Eigen::VectorXd x =
        Eigen::VectorXd::LinSpaced(m, 0.0, static_cast<double>(m - 1)).array() - 0.5 * static_cast<double>(m - 1);
    const auto y = log_v.segment(low, m);
    const double slope = m > 2 ? x.dot(y) / x.squaredNorm() : 0.0;
    out[i] = std::exp(y.mean() + slope * x[i - low]);
  }
  return out;
}

// Relative noise of a curve that does not say: each point's distance from the line through its two neighbours in
// log I against log q, divided by what unit noise would give it; the median, so that a peak does not count.
double relative_noise(const Curve& curve) {
  std::vector<double> off;
  for (Eigen::Index i = 1; i + 1 < curve.size(); ++i) {
    const auto i3 = curve.intensity.segment(i - 1, 3).array();
    if (!(i3 > 0.0).all()) continue;
    const auto x = curve.q_per_nm.segment(i - 1, 3).array().log().eval();
    const double b = (x[1] - x[0]) / (x[2] - x[0]), a = 1.0 - b;
    off.push_back(std::abs(std::log(i3[1]) - a * std::log(i3[0]) - b * std::log(i3[2])) / std::sqrt(1 + a * a + b * b));
  }
  if (off.empty()) return 1.0;
  std::nth_element(off.begin(), off.begin() + off.size() / 2, off.end());
  return std::max(1e-6, off[off.size() / 2] / 0.6744897501960817);  // median of |normal|
}

}  // namespace

PointWeights point_weights(const Curve& curve) {
  const Eigen::Index n = curve.size();
  PointWeights out;
  out.variance = pointwise_u(curve).array().square();
  const Eigen::Index without = (out.variance.array() == 0.0).count();
  if (without == n && n > 0) {
    out.known = false;
    const double s = relative_noise(curve);
    // A floor keeps a point of zero intensity from an infinite weight.
    const double floor = 1e-12 * curve.intensity.cwiseAbs2().maxCoeff();
    out.variance = s * s * curve.intensity.cwiseAbs2().cwiseMax(floor > 0.0 ? floor : 1.0);
  } else if (without > 0) {
    Eigen::Index first = 0;
    while (out.variance[first] != 0.0) ++first;
    throw InputError(fmt::format("{} of {} points have no uncertainty of their own (the first at q = {:.4g} 1/nm).",
                                 without, n, curve.q_per_nm[first]),
                     "Give every point its standard uncertainty, or none; a bin of zero counts has one, too.");
  }
  out.smooth = smooth_over_neighbours(out.variance);
  return out;
}

}  // namespace sievelight
