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
  const Eigen::VectorXd slope = log_slope_times_curve(curve.q_per_nm, fitted);
  // From the plainest to the richest; the first set that suffices is taken, because each further shape lets some noise
  // of the data back in.
  Eigen::MatrixXd shapes(n, 13);
  shapes << fitted, slope, Eigen::VectorXd::Ones(n), (t * fitted.array()).matrix(), u, (t * slope.array()).matrix(),
      (t * u.array()).matrix(), (t.square() * fitted.array()).matrix(), (t.square() * slope.array()).matrix(),
      (t.square() * u.array()).matrix(), (t.cube() * fitted.array()).matrix(), (t.cube() * slope.array()).matrix(),
      (t.cube() * u.array()).matrix();
  const Eigen::MatrixXd weighted = u.cwiseInverse().asDiagonal() * shapes;
  CoherentCauses rebuilt;
  std::vector<Eigen::VectorXd> directions;
  double scale_variance = 0.0;
  for (Eigen::Index k = 0; k < out.u.cols(); ++k) {
    const Eigen::VectorXd target = u.cwiseInverse().asDiagonal() * out.u.col(k);
    // A cause proportional to the data inherits relative noise u/I, so |residual| / u is about |cause| / |I|.
    const double inherited = (out.u.col(k).array().square() / (fitted.array().square() + u.array().square())).sum();
    Eigen::VectorXd direction = out.u.col(k);
    bool scale = false;
    for (const Eigen::Index count : {1, 3, 5, 7, 13}) {
      const Eigen::MatrixXd some = weighted.leftCols(count);
      const Eigen::VectorXd weight = Eigen::CompleteOrthogonalDecomposition<Eigen::MatrixXd>(some).solve(target);
      if ((target - some * weight).squaredNorm() > 1.5 * inherited) continue;
      direction = shapes.leftCols(count) * weight;
      scale = count == 1;
      if (scale) scale_variance += weight[0] * weight[0];
      break;
    }
    if (scale) continue;
    rebuilt.ids.push_back(out.ids[static_cast<std::size_t>(k)]);
    directions.push_back(std::move(direction));
  }
  rebuilt.relative_scale = std::sqrt(scale_variance);
  rebuilt.u.resize(n, static_cast<Eigen::Index>(directions.size()));
  for (std::size_t k = 0; k < directions.size(); ++k) rebuilt.u.col(static_cast<Eigen::Index>(k)) = directions[k];
  return rebuilt;
}

Noise::Noise(Eigen::VectorXd u, Eigen::MatrixXd shared) : u_(std::move(u)), shared_(std::move(shared)) {
  const Eigen::Index k = shared_.cols();
  ln_determinant_ = 2 * u_.array().log().sum();
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
  ln_determinant_ += (1 + s.square()).log().sum();
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
