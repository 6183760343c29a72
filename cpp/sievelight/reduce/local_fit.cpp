// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/local_fit.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <limits>

namespace sievelight {

using Eigen::Index;
using Eigen::VectorXd;

namespace {

struct Quadratic {
  VectorXd c;          // of c0 + c1 x + c2 x^2; fewer with fewer points
  double slope_u = 0;  // standard uncertainty of c1, where the weights are 1/u^2
};

// `root`: the square roots of the weights.
Quadratic quadratic(const Eigen::ArrayXd& x, const Eigen::ArrayXd& y, const Eigen::ArrayXd& root) {
  const Index order = std::min<Index>(2, x.size() - 1);
  Eigen::MatrixXd design(x.size(), order + 1);
  design.col(0) = root;
  for (Index k = 1; k <= order; ++k) design.col(k) = design.col(k - 1).array() * x;
  const Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr(design);
  // Row of c1 in the pseudo-inverse: its norm is the standard uncertainty for unit errors.
  const VectorXd row = qr.solve(Eigen::MatrixXd::Identity(x.size(), x.size())).row(1);
  return {qr.solve((root * y).matrix()), row.norm()};
}

Eigen::ArrayXd value(const VectorXd& c, const Eigen::ArrayXd& x) {
  Eigen::ArrayXd out = Eigen::ArrayXd::Constant(x.size(), c[c.size() - 1]);
  for (Index k = c.size() - 2; k >= 0; --k) out = out * x + c[k];
  return out;
}

struct Slope {
  double value = 0, u = 0;  // dI/dq
};

// At point i, through the points first ... first + m - 1; of I, or of ln I where that fits better.
Slope slope_at(const Curve& curve, const VectorXd& variance, Index i, Index first, Index m) {
  const double q = curve.q_per_nm[i];
  const Eigen::ArrayXd x = curve.q_per_nm.segment(first, m).array().log() - std::log(q);
  const Eigen::ArrayXd y = curve.intensity.segment(first, m);
  Eigen::ArrayXd root = variance.segment(first, m).array().sqrt().inverse();
  if (!root.isFinite().all()) root.setOnes();
  const Quadratic line = quadratic(x, y, root);
  const Slope plain{line.c[1] / q, line.slope_u / q};
  if (!(y > 0).all()) return plain;
  // d/dq = (1/q) d/d ln q; of ln I it is (dI/dq)/I, and the smooth I is exp(fit[0]).
  const Quadratic log_line = quadratic(x, y.log(), root * y);
  const auto misfit = [&](const Eigen::ArrayXd& model) { return (root * (y - model)).square().sum(); };
  if (misfit(value(log_line.c, x).exp()) > misfit(value(line.c, x))) return plain;
  const double level = std::exp(log_line.c[0]) / q;
  return {log_line.c[1] * level, log_line.slope_u * level};
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
  const bool known = (variance.array() > 0).all();
  VectorXd out = VectorXd::Zero(n);
  for (Index i = 0; i < n; ++i) {
    const auto around = [&](int half) {
      const Index first = std::max<Index>(0, i - half), m = std::min<Index>(n - 1, i + half) - first + 1;
      return m < 2 ? Slope{} : slope_at(curve, variance, i, first, m);
    };
    if (!known) {
      out[i] = around(half_width).value;
      continue;
    }
    // Wider as long as all windows so far agree: where the curve bends faster than a quadratic over a window, that
    // window's slope leaves the intervals of the narrower ones, and the last that agreed is used.
    // A tenth of a slope is forgiven: it is a tenth of an uncertainty, and bins of few pixels are rougher than their
    // counts.
    constexpr double agree = 4, forgiven = 0.1;
    double low = -std::numeric_limits<double>::infinity(), high = -low;
    for (int half = 1; half <= half_width; ++half) {
      const Slope s = around(half);
      const double margin = std::hypot(agree * s.u, forgiven * s.value);
      low = std::max(low, s.value - margin);
      high = std::min(high, s.value + margin);
      if (low > high) break;
      out[i] = s.value;
    }
  }
  return out;
}

}  // namespace sievelight
