// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/noise.hpp"

#include <Eigen/Cholesky>
#include <Eigen/QR>
#include <Eigen/SVD>
#include <cmath>

namespace sievelight {
namespace {

// q dF/dq by central differences in ln q.
Eigen::VectorXd log_slope_times_curve(const Eigen::VectorXd& q, const Eigen::VectorXd& curve) {
  const Eigen::Index n = q.size();
  Eigen::VectorXd out(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const Eigen::Index a = std::max<Eigen::Index>(i - 1, 0), b = std::min<Eigen::Index>(i + 1, n - 1);
    out[i] = (curve[b] - curve[a]) / std::log(q[b] / q[a]);
  }
  return out;
}

}  // namespace

CoherentCauses coherent_causes(const Curve& curve) {
  CoherentCauses out;
  for (const auto& [id, cause] : curve.causes)
    if (cause.kind == CauseKind::coherent && cause.u.squaredNorm() > 0) out.ids.push_back(id);
  out.u.resize(curve.size(), static_cast<Eigen::Index>(out.ids.size()));
  for (std::size_t k = 0; k < out.ids.size(); ++k)
    out.u.col(static_cast<Eigen::Index>(k)) = curve.causes.at(out.ids[k]).u;
  return out;
}

CoherentCauses smooth_coherent(const Curve& curve, const Eigen::VectorXd& fitted) {
  CoherentCauses out = coherent_causes(curve);
  const Eigen::Index n = curve.size();
  if (out.ids.empty() || n < 24) return out;
  const Eigen::VectorXd u = pointwise_u(curve);
  const Eigen::ArrayXd ln_q = curve.q_per_nm.array().log();
  const Eigen::ArrayXd t = 2 * (ln_q - ln_q[0]) / (ln_q[n - 1] - ln_q[0]) - 1;
  Eigen::MatrixXd basis(n, 12);
  const Eigen::VectorXd slope = log_slope_times_curve(curve.q_per_nm, fitted);
  // The additive part bends with the noise level, the one scale that spans the decades of a curve.
  for (int power = 0; power < 4; ++power) {
    const Eigen::ArrayXd shape = t.pow(power);
    basis.col(3 * power) = shape * fitted.array();
    basis.col(3 * power + 1) = shape * u.array();
    basis.col(3 * power + 2) = shape * slope.array();
  }
  const Eigen::MatrixXd weighted = u.cwiseInverse().asDiagonal() * basis;
  const Eigen::CompleteOrthogonalDecomposition<Eigen::MatrixXd> solve(weighted);
  for (Eigen::Index k = 0; k < out.u.cols(); ++k) {
    const Eigen::VectorXd target = u.cwiseInverse().asDiagonal() * out.u.col(k);
    const Eigen::VectorXd smooth = basis * solve.solve(target);
    const double left = (target - u.cwiseInverse().asDiagonal() * smooth).squaredNorm();
    // A cause proportional to the data inherits relative noise u/I, so |residual| / u is about |cause| / |I|.
    const double inherited = (out.u.col(k).array().square() / (fitted.array().square() + u.array().square())).sum();
    if (left <= 1.5 * inherited) out.u.col(k) = smooth;
  }
  return out;
}

Noise::Noise(Eigen::VectorXd u, Eigen::MatrixXd shared) : u_(std::move(u)), shared_(std::move(shared)) {
  const Eigen::Index k = shared_.cols();
  if (k == 0) {
    directions_.resize(u_.size(), 0);
    amplitude_root_.resize(0, 0);
    to_amplitudes_.resize(0, u_.size());
    return;
  }
  const Eigen::MatrixXd scaled = u_.cwiseInverse().asDiagonal() * shared_;
  const Eigen::BDCSVD<Eigen::MatrixXd> svd(scaled, Eigen::ComputeThinU | Eigen::ComputeThinV);
  directions_ = svd.matrixU();
  const Eigen::ArrayXd s = svd.singularValues().array();
  shrink_ = (1 + s.square()).rsqrt() - 1;
  // Amplitudes z ~ N(0, 1): mean (I + V'V)^-1 V' r, covariance (I + V'V)^-1, with V = diag(1/u) S = P s Q'.
  to_amplitudes_ = svd.matrixV() * (s / (1 + s.square())).matrix().asDiagonal() * directions_.transpose() *
                   u_.cwiseInverse().asDiagonal();
  const Eigen::MatrixXd covariance =
      svd.matrixV() * (1 / (1 + s.square())).matrix().asDiagonal() * svd.matrixV().transpose();
  amplitude_root_ = Eigen::LLT<Eigen::MatrixXd>(covariance).matrixL();
}

Eigen::MatrixXd Noise::whiten(const Eigen::MatrixXd& b) const {
  Eigen::MatrixXd out = u_.cwiseInverse().asDiagonal() * b;
  if (shared_.cols() > 0) out += directions_ * (shrink_.asDiagonal() * (directions_.transpose() * out)).eval();
  return out;
}

Eigen::MatrixXd Noise::whiten_back(const Eigen::MatrixXd& b) const {
  Eigen::MatrixXd out = b;
  if (shared_.cols() > 0) out += directions_ * (shrink_.asDiagonal() * (directions_.transpose() * b)).eval();
  return u_.cwiseInverse().asDiagonal() * out;
}

Eigen::VectorXd Noise::amplitudes(const Eigen::VectorXd& residual) const { return to_amplitudes_ * residual; }

}  // namespace sievelight
