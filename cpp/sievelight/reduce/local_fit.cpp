// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/local_fit.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <Eigen/QR>
#include <algorithm>
#include <cmath>

namespace sievelight {

using Eigen::Index;
using Eigen::VectorXd;

namespace {

// Coefficients of y = c0 + c1 x + c2 x^2 (fewer with fewer points), `root` the square roots of the weights.
VectorXd quadratic(const Eigen::ArrayXd& x, const Eigen::ArrayXd& y, const Eigen::ArrayXd& root) {
  const Index order = std::min<Index>(2, x.size() - 1);
  Eigen::MatrixXd design(x.size(), order + 1);
  design.col(0) = root;
  for (Index k = 1; k <= order; ++k) design.col(k) = design.col(k - 1).array() * x;
  return design.colPivHouseholderQr().solve((root * y).matrix());
}

Eigen::ArrayXd value(const VectorXd& c, const Eigen::ArrayXd& x) {
  Eigen::ArrayXd out = Eigen::ArrayXd::Constant(x.size(), c[c.size() - 1]);
  for (Index k = c.size() - 2; k >= 0; --k) out = out * x + c[k];
  return out;
}

}  // namespace

VectorXd smooth(const VectorXd& v, int half_width) {
  if (half_width < 0) throw InputError(fmt::format("a half width of {} points.", half_width), "Give zero or more.");
  VectorXd out(v.size());
  for (Index i = 0; i < v.size(); ++i) {
    const Index first = std::max<Index>(0, i - half_width), last = std::min<Index>(v.size() - 1, i + half_width);
    out[i] = v.segment(first, last - first + 1).mean();
  }
  return out;
}

VectorXd smooth_variance(const VectorXd& u, int half_width) { return smooth(u.cwiseAbs2(), half_width); }

VectorXd local_slope(const Curve& curve, int half_width) {
  if (half_width < 1) throw InputError(fmt::format("a half width of {} points.", half_width), "Give one or more.");
  const Index n = curve.size();
  const VectorXd variance = smooth_variance(pointwise_u(curve), half_width);
  VectorXd out = VectorXd::Zero(n);
  for (Index i = 0; i < n; ++i) {
    const Index first = std::max<Index>(0, i - half_width), m = std::min<Index>(n - 1, i + half_width) - first + 1;
    if (m < 2) continue;
    const Eigen::ArrayXd x = curve.q_per_nm.segment(first, m).array().log() - std::log(curve.q_per_nm[i]);
    const Eigen::ArrayXd y = curve.intensity.segment(first, m);
    Eigen::ArrayXd root = variance.segment(first, m).array().sqrt().inverse();
    if (!root.isFinite().all()) root.setOnes();
    const VectorXd line = quadratic(x, y, root);
    out[i] = line[1] / curve.q_per_nm[i];
    if (!(y > 0).all()) continue;
    // d/dq = (1/q) d/d ln q; of ln I it is (dI/dq)/I, and the smooth I is exp(fit[0]).
    const VectorXd log_line = quadratic(x, y.log(), root * y);
    const auto misfit = [&](const Eigen::ArrayXd& model) { return (root * (y - model)).square().sum(); };
    if (misfit(value(log_line, x).exp()) <= misfit(value(line, x)))
      out[i] = log_line[1] / curve.q_per_nm[i] * std::exp(log_line[0]);
  }
  return out;
}

}  // namespace sievelight
