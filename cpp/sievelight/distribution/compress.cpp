// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/compress.hpp"

#include <Eigen/QR>

namespace sievelight {

Compressed compress(const Noise& noise, const Eigen::VectorXd& intensity, const Eigen::MatrixXd& columns,
                    double tolerance) {
  // The most that each unknown can be before it alone stands above the data somewhere; the flat level may hide as much
  // again as the lowest intensity.
  const Eigen::VectorXd ceiling = intensity.cwiseAbs().array() + 5 * noise.u().array();
  Eigen::VectorXd most(columns.cols());
  for (Eigen::Index j = 0; j < columns.cols(); ++j)
    most[j] = (ceiling.array() / columns.col(j).array().max(1e-300)).minCoeff();
  const Eigen::MatrixXd scaled = noise.whiten(columns * most.asDiagonal());
  const Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr(scaled);
  const Eigen::Index full = std::min(scaled.rows(), scaled.cols());
  Eigen::Index rank = 0;
  while (rank < full && std::abs(qr.matrixR()(rank, rank)) > tolerance) ++rank;
  Compressed out;
  const Eigen::MatrixXd triangle = qr.matrixR().topRows(rank).triangularView<Eigen::Upper>();
  out.m = triangle * qr.colsPermutation().transpose() * most.cwiseInverse().asDiagonal();
  out.back = qr.householderQ() * Eigen::MatrixXd::Identity(scaled.rows(), rank);
  const Eigen::VectorXd white = noise.whiten(intensity);
  out.y = out.back.transpose() * white;
  out.rest = std::max(0.0, white.squaredNorm() - out.y.squaredNorm());
  return out;
}

}  // namespace sievelight
