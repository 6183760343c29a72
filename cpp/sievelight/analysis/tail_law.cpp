// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/tail_law.hpp"

#include "sievelight/base/units.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <vector>

namespace sievelight {
namespace {

using Eigen::ArrayXd;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// The law in its scaled variables: z = (q_first / q)^2 and t = (q / q_last)^2, both in (0, 1].
class ScaledLaw {
 public:
  ScaledLaw(const ArrayXd& q, const TailLaw& law)
      : law_(law), z_((q[0] / q).square()), t_((q / q[q.size() - 1]).square()) {
    if (law.background == TailBackground::exponential) shapes_.push_back(0.0);
    if (law.walls == Walls::smooth) shapes_.push_back(0.0);
  }
  bool exponential() const { return law_.background == TailBackground::exponential; }
  bool smooth() const { return law_.walls == Walls::smooth; }

  // (m, columns) of the coefficients that enter linearly.
  MatrixXd linear(const std::vector<double>& shapes) const {
    const ArrayXd h = smooth() ? (-shapes.back() * t_).exp().eval() : ArrayXd::Ones(t_.size());
    std::vector<ArrayXd> columns{exponential() ? (shapes[0] * t_).exp().eval() : ArrayXd::Ones(t_.size()),
                                 z_.square() * h};
    if (law_.next_term) columns.emplace_back(z_.cube() * h);
    if (law_.background == TailBackground::square) columns.emplace_back(t_);
    if (law_.background == TailBackground::fourth) columns.emplace_back(t_.square());
    MatrixXd out(t_.size(), static_cast<Eigen::Index>(columns.size()));
    for (std::size_t k = 0; k < columns.size(); ++k) out.col(static_cast<Eigen::Index>(k)) = columns[k].matrix();
    return out;
  }
  // The same with the derivatives to b and s behind them.
  MatrixXd jacobian(const MatrixXd& linear, const VectorXd& c) const {
    MatrixXd out(linear.rows(), linear.cols() + static_cast<Eigen::Index>(shapes_.size()));
    out.leftCols(linear.cols()) = linear;
    Eigen::Index at = linear.cols();
    if (exponential()) out.col(at++) = c[0] * t_ * linear.col(0).array();
    if (smooth()) {
      ArrayXd surface = c[1] * linear.col(1).array();
      if (law_.next_term) surface += c[2] * linear.col(2).array();
      out.col(at) = -t_ * surface;
    }
    return out;
  }
  std::size_t shapes() const { return shapes_.size(); }

 private:
  TailLaw law_;
  ArrayXd z_, t_;
  std::vector<double> shapes_;
};

// Steepest change of exp over the window that is still believed; beyond, the fit has lost the term it belongs to.
constexpr double steepest = 12.0;

}  // namespace

const char* name(TailBackground background) {
  switch (background) {
    case TailBackground::square:
      return "square";
    case TailBackground::fourth:
      return "fourth";
    case TailBackground::exponential:
      return "exponential";
    case TailBackground::flat:
      break;
  }
  return "flat";
}

const char* name(Walls walls) { return walls == Walls::sharp ? "sharp" : "smooth"; }

TailFit fit_tail(const ArrayXd& q, const VectorXd& intensity, const ArrayXd& variance, const TailLaw& law) {
  const ScaledLaw scaled(q, law);
  const VectorXd root = variance.sqrt().inverse(), y = root.cwiseProduct(intensity);
  std::vector<double> shapes(scaled.shapes(), 0.0);
  TailFit out;
  MatrixXd linear = scaled.linear(shapes), jacobian;
  VectorXd c;
  const auto solve = [&](const MatrixXd& columns) {
    c = (root.asDiagonal() * columns).eval().colPivHouseholderQr().solve(y);
    return (y - root.asDiagonal() * (columns * c)).squaredNorm();
  };
  double now = solve(linear);
  bool settled = shapes.empty();
  // Gauss-Newton on all, the linear coefficients solved anew at each b and s.
  for (int step = 0; step < 60 && !settled; ++step) {
    jacobian = scaled.jacobian(linear, c);
    const VectorXd residual = y - root.asDiagonal() * (linear * c);
    VectorXd move = (root.asDiagonal() * jacobian)
                        .eval()
                        .colPivHouseholderQr()
                        .solve(residual)
                        .tail(static_cast<Eigen::Index>(shapes.size()));
    const double longest = move.cwiseAbs().maxCoeff();
    if (!std::isfinite(longest)) break;
    if (longest > 2.0) move *= 2.0 / longest;
    bool better = false;
    for (int half = 0; half < 12 && !better; ++half, move *= 0.5) {
      std::vector<double> next = shapes;
      for (std::size_t k = 0; k < shapes.size(); ++k) next[k] += move[static_cast<Eigen::Index>(k)];
      const MatrixXd columns = scaled.linear(next);
      const VectorXd before = c;
      const double sum = solve(columns);
      if (sum < now) {
        // So small a drop of chi-square moves no coefficient by more than 1e-4 of its u.
        settled = now - sum < 1e-8 * std::max(1.0, sum) && half == 0;
        better = true;
        shapes = next, linear = columns, now = sum;
      } else {
        c = before;
      }
    }
    if (!better) settled = true;
  }
  out.settled = settled;
  for (const double shape : shapes) out.settled = out.settled && std::abs(shape) < steepest;
  jacobian = scaled.jacobian(linear, c);
  out.residual = (intensity - linear * c).array();

  // Back to the units of q: B, K, C, growth, s; the exponential's b stands behind the linear ones already.
  const double first2 = q[0] * q[0], last2 = q[q.size() - 1] * q[q.size() - 1];
  VectorXd unit = VectorXd::Ones(jacobian.cols());
  unit[1] = first2 * first2;
  Eigen::Index at = 2;
  if (law.next_term) unit[at++] = first2 * first2 * first2;
  if (law.background != TailBackground::flat)
    unit[at++] = law.background == TailBackground::fourth ? 1.0 / (last2 * last2) : 1.0 / last2;
  if (law.walls == Walls::smooth) unit[at] = 1.0 / last2;
  out.coefficient.resize(jacobian.cols());
  out.coefficient.head(c.size()) = c;
  for (std::size_t k = 0; k < shapes.size(); ++k) out.coefficient[c.size() + static_cast<Eigen::Index>(k)] = shapes[k];
  out.coefficient.array() *= unit.array();
  const Eigen::ColPivHouseholderQR<MatrixXd> qr(root.asDiagonal() * jacobian);
  const MatrixXd thin = qr.householderQ() * MatrixXd::Identity(jacobian.rows(), jacobian.cols());
  const MatrixXd pseudo =
      qr.colsPermutation() *
      qr.matrixR().topRows(jacobian.cols()).triangularView<Eigen::Upper>().solve(thin.transpose()).eval();
  out.influence = unit.asDiagonal() * pseudo * root.asDiagonal();
  out.inverse = unit.asDiagonal() * (pseudo * pseudo.transpose()) * unit.asDiagonal();
  return out;
}

double smooth_tail(int power, double s, double x) {
  if (!(s > 0.0)) return power == 2 ? 1.0 / x : 1.0 / (3.0 * x * x * x);
  const double fall = std::exp(-s * x * x);
  const double two = fall / x - std::sqrt(pi * s) * std::erfc(std::sqrt(s) * x);
  return power == 2 ? two : fall / (3.0 * x * x * x) - 2.0 * s / 3.0 * two;
}

}  // namespace sievelight
