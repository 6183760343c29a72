// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/peak_fit.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/least_squares.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace sievelight {
namespace {

using Eigen::ArrayXd;
using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Parameters: background coefficients, then (q, ln w, h) of each peak, then eta for a pseudo-Voigt.
struct Problem {
  ArrayXd q, intensity, root_weight;
  MatrixXd base;  // (m, d + 1) background columns
  Index peaks = 0;
  PeakProfile profile = PeakProfile::gaussian;

  Index size() const { return base.cols() + 3 * peaks + (profile == PeakProfile::pseudo_voigt ? 1 : 0); }
  double eta(const VectorXd& x) const {
    if (profile == PeakProfile::pseudo_voigt) return x[x.size() - 1];
    return profile == PeakProfile::lorentzian ? 1.0 : 0.0;
  }
  VectorXd background(const VectorXd& x) const { return base * x.head(base.cols()); }
  VectorXd model(const VectorXd& x) const {
    ArrayXd out = background(x).array();
    for (Index k = 0; k < peaks; ++k) {
      const auto p = x.segment<3>(base.cols() + 3 * k);
      out += p[2] * peak_shape((q - p[0]) / std::exp(p[1]), eta(x));
    }
    return out;
  }
  MatrixXd jacobian(const VectorXd& x) const {
    MatrixXd out(q.size(), x.size());
    out.leftCols(base.cols()) = base;
    const double e = eta(x);
    if (profile == PeakProfile::pseudo_voigt) out.col(x.size() - 1).setZero();
    for (Index k = 0; k < peaks; ++k) {
      const Index at = base.cols() + 3 * k;
      const double w = std::exp(x[at + 1]), h = x[at + 2];
      const ArrayXd t = (q - x[at]) / w, slope = peak_slope(t, e);
      out.col(at) = -h / w * slope;
      out.col(at + 1) = -h * t * slope;
      out.col(at + 2) = peak_shape(t, e);
      if (profile == PeakProfile::pseudo_voigt)
        out.col(x.size() - 1).array() += h * (peak_shape(t, 1.0) - peak_shape(t, 0.0));
    }
    return out;
  }
};

// Leaves x where the search ended; whether that is a minimum is asked afterwards.
bool descend(const Problem& problem, VectorXd& x) {
  LeastSquaresOptions how;
  how.tolerance = 1e-8;
  how.jacobian = [&](const VectorXd& at) {
    return MatrixXd(problem.root_weight.matrix().asDiagonal() * problem.jacobian(at));
  };
  try {
    x = minimise_squares(
            [&](const VectorXd& at) {
              return VectorXd(
                  problem.root_weight.matrix().cwiseProduct(problem.model(at) - problem.intensity.matrix()));
            },
            x, how)
            .parameters;
  } catch (const NumericalError&) {  // no finite model at the start
    return false;
  }
  return x.allFinite();
}

PeakGroup fit_one(Problem problem, VectorXd x, PeakProfile profile) {
  problem.profile = profile;
  const Index d = problem.base.cols(), m = problem.q.size();
  x.conservativeResize(problem.size());
  if (profile == PeakProfile::pseudo_voigt) x[x.size() - 1] = 0.5;
  PeakGroup out;
  out.profile = profile;
  out.degrees_of_freedom = static_cast<int>(m - x.size());
  if (out.degrees_of_freedom < 1) return out;
  const VectorXd start = x;
  out.settled = descend(problem, x);
  if (!out.settled) return out;
  out.eta = problem.eta(x);
  const double low = problem.q[0], high = problem.q[m - 1], span = high - low;
  for (Index k = 0; k < problem.peaks; ++k) {
    const auto p = x.segment<3>(d + 3 * k);
    const double w = std::exp(p[1]), ratio = std::exp(p[1] - start[d + 3 * k + 1]);
    // Inside its window, not turned into the background, nor into one single point.
    if (!(p[2] > 0.0) || !(p[0] > low && p[0] < high) || !(w < 0.7 * span) || !(ratio > 0.2 && ratio < 4.0) ||
        std::abs(p[0] - start[d + 3 * k]) > 1.5 * std::exp(start[d + 3 * k + 1]))
      out.settled = false;
    out.peaks.push_back({p[0], w, p[2]});
  }
  // Tails that are too heavy are paid for by a background below zero, where no intensity is.
  double highest = 0.0;
  for (const PeakStart& p : out.peaks) highest = std::max(highest, p.height);
  if (problem.intensity.minCoeff() > 0.0 && problem.background(x).minCoeff() < -0.02 * highest) out.settled = false;
  if (out.eta < 0.0 || out.eta > 1.0) out.settled = false;
  out.background = problem.background(x);
  out.fit = problem.model(x);
  out.chi2 = (problem.root_weight * (problem.intensity - out.fit.array())).square().sum();
  const MatrixXd scaled = problem.root_weight.matrix().asDiagonal() * problem.jacobian(x);
  // By QR: the columns differ by orders of magnitude.
  const Eigen::ColPivHouseholderQR<MatrixXd> qr(scaled);
  if (qr.rank() < x.size()) out.settled = false;
  // A minimum: the next step would gain next to nothing in chi2.
  const VectorXd gap = (problem.root_weight * (problem.intensity - out.fit.array())).matrix();
  const double gain = gap.dot(scaled * qr.solve(gap));
  if (!(gain < 1e-3 * std::max(1.0, out.chi2 / out.degrees_of_freedom))) out.settled = false;
  const MatrixXd all = qr.solve(MatrixXd(problem.root_weight.matrix().asDiagonal()));
  out.influence = all.middleRows(d, 3 * problem.peaks);
  if (!out.influence.allFinite()) out.settled = false;
  return out;
}

double bic(const PeakGroup& group) {
  if (!group.settled) return std::numeric_limits<double>::infinity();
  const double m = static_cast<double>(group.fit.size());
  return group.chi2 + (m - group.degrees_of_freedom) * std::log(m);
}

}  // namespace

ArrayXd smooth_shape(const ArrayXd& q, const ArrayXd& intensity, const ArrayXd& variance,
                     const Eigen::Array<bool, Eigen::Dynamic, 1>& use) {
  const Index m = q.size(), used = use.count();
  ArrayXd one = ArrayXd::Ones(m);
  if (used < 3) return one;
  const ArrayXd x = (q / std::sqrt(q[0] * q[m - 1])).log();
  const bool bent = used >= 7 && q[m - 1] > 1.25 * q[0];  // over a short window a line tells all that the points do
  // Normal equations of up to three columns over x in about [-1/2, 1/2]: well conditioned, and this is the inner loop.
  Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
  Eigen::Vector3d right = Eigen::Vector3d::Zero();
  const double stretch = 1.0 / x[m - 1];
  for (Index i = 0; i < m; ++i) {
    if (!use[i]) continue;
    // A logarithm needs a point that is clear of zero.
    if (!(intensity[i] > 0.0 && intensity[i] * intensity[i] > 4.0 * variance[i])) return one;
    const double weight = std::min(intensity[i] * intensity[i] / variance[i], 1e12), t = x[i] * stretch;
    const Eigen::Vector3d row(1.0, t, bent ? t * t : 0.0);
    normal += weight * row * row.transpose();
    right += weight * std::log(intensity[i]) * row;
  }
  if (!bent) normal(2, 2) = 1.0;
  const Eigen::Vector3d c = normal.ldlt().solve(right);
  const ArrayXd t = x * stretch;
  const ArrayXd log_shape = c[0] + c[1] * t + c[2] * t.square();
  return log_shape.allFinite() && log_shape.abs().maxCoeff() < 300.0 ? log_shape.exp().eval() : one;
}

PeakGroup fit_peak_group(const ArrayXd& q, const ArrayXd& intensity, const ArrayXd& variance,
                         const std::vector<PeakStart>& starts, PeakProfile profile) {
  const Index m = q.size(), k = static_cast<Index>(starts.size());
  Problem problem{q, intensity, variance.sqrt().inverse(), {}, k, PeakProfile::gaussian};
  ArrayXd rest = intensity;
  // A high peak's tails reach far: the shape comes from the points well beside it, where there are enough.
  Eigen::Array<bool, Eigen::Dynamic, 1> well(m), near(m);
  well.setConstant(true);
  near.setConstant(true);
  for (const PeakStart& s : starts) {
    well = well && (q - s.q_per_nm).abs() > 1.5 * s.fwhm_per_nm;
    near = near && (q - s.q_per_nm).abs() > 0.9 * s.fwhm_per_nm;
  }
  if (well.count() < 7) well = near;
  for (const PeakStart& s : starts) rest -= s.height * peak_shape((q - s.q_per_nm) / s.fwhm_per_nm, 0.0);
  const ArrayXd shape = smooth_shape(q, intensity, variance, well);
  // The shape holds slope and bend already. One bend more where a row of peaks makes the window long, one less where a
  // narrow peak makes it short: further freedom would follow the peaks.
  const double ratio = q[m - 1] / q[0];
  const Index degree = std::min<Index>(ratio > 1.6 ? 3 : ratio > 1.2 ? 2 : 1, std::max<Index>(0, m - 3 * k - 3));
  const ArrayXd t = 2.0 * (q / q[0]).log() / std::log(q[m - 1] / q[0]) - 1.0;
  problem.base.resize(m, degree + 1);
  for (Index c = 0; c <= degree; ++c) problem.base.col(c) = shape * t.pow(static_cast<double>(c));
  VectorXd x(degree + 1 + 3 * k);
  x.head(degree + 1) = (problem.root_weight.matrix().asDiagonal() * problem.base)
                           .colPivHouseholderQr()
                           .solve((problem.root_weight * rest).matrix());
  for (Index i = 0; i < k; ++i) {
    const PeakStart& s = starts[static_cast<std::size_t>(i)];
    x.segment<3>(degree + 1 + 3 * i) << s.q_per_nm, std::log(s.fwhm_per_nm), s.height;
  }
  if (profile != PeakProfile::automatic) return fit_one(problem, x, profile);
  PeakGroup best = fit_one(problem, x, PeakProfile::gaussian);
  for (const PeakProfile other : {PeakProfile::lorentzian, PeakProfile::pseudo_voigt}) {
    PeakGroup trial = fit_one(problem, x, other);
    if (bic(trial) < bic(best)) best = std::move(trial);
  }
  return best;
}

}  // namespace sievelight
