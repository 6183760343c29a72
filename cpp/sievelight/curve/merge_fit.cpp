// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/merge_fit.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gsl.hpp"

#include <fmt/format.h>
#include <gsl/gsl_bspline.h>

#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <limits>
#include <memory>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Where one point looks at the smooth curve: nine looks are three in the bin times three through the blur.
constexpr int looks = 9;
struct Nodes {
  MatrixXd log_q;   // (n, looks)
  MatrixXd weight;  // (n, looks), rows sum to 1
};

Nodes nodes_of(const Curve& c, bool blur) {
  const Index n = c.size();
  const bool bins = c.q_low_per_nm.size() == n;
  Nodes out{MatrixXd(n, looks), MatrixXd(n, looks)};
  // Gauss-Legendre and Gauss-Hermite rules of three points: exact for quintics, and a bin is narrow.
  const double at[] = {-std::sqrt(0.6), 0.0, std::sqrt(0.6)}, share[] = {5.0 / 18, 8.0 / 18, 5.0 / 18};
  const double far[] = {-std::sqrt(3.0), 0.0, std::sqrt(3.0)}, chance[] = {1.0 / 6, 2.0 / 3, 1.0 / 6};
  for (Index i = 0; i < n; ++i) {
    const double half = bins ? 0.5 * (c.q_high_per_nm[i] - c.q_low_per_nm[i]) : 0.0;
    const double middle = bins ? 0.5 * (c.q_high_per_nm[i] + c.q_low_per_nm[i]) : c.q_per_nm[i];
    // A blur as wide as q itself would look at q < 0.
    const double sd = blur ? std::min(c.q_resolution_per_nm[i], 0.3 * c.q_per_nm[i]) : 0.0;
    for (int b = 0; b < 3; ++b)
      for (int r = 0; r < 3; ++r) {
        const double q = middle + half * at[b];
        out.log_q(i, 3 * b + r) = std::log(q + sd * far[r]);
        out.weight(i, 3 * b + r) = share[b] * q * chance[r];
      }
    out.weight.row(i) /= out.weight.row(i).sum();
  }
  return out;
}

// B-splines of `count` coefficients on [low, high]: cubic, or of the degree that so few allow.
class Basis {
 public:
  Basis(int count, double low, double high)
      : work_(gsl_bspline_alloc(static_cast<std::size_t>(std::min(count, 4)),
                                static_cast<std::size_t>(count > 4 ? count - 2 : 2)),
              gsl_bspline_free),
        values_(gsl_vector_alloc(static_cast<std::size_t>(count)), gsl_vector_free),
        low_(low),
        high_(high) {
    check_gsl(gsl_bspline_knots_uniform(low, high, work_.get()), "the knots of the common curve");
  }
  void values(double x, Eigen::Ref<VectorXd> out) {
    check_gsl(gsl_bspline_eval(std::clamp(x, low_, high_), values_.get(), work_.get()), "the common curve");
    for (Index j = 0; j < out.size(); ++j) out[j] = gsl_vector_get(values_.get(), static_cast<std::size_t>(j));
  }

 private:
  std::unique_ptr<gsl_bspline_workspace, decltype(&gsl_bspline_free)> work_;
  std::unique_ptr<gsl_vector, decltype(&gsl_vector_free)> values_;
  double low_, high_;
};

class Problem {
 public:
  Problem(const Curve& low, const Curve& high, const VectorXd& variance, const std::optional<double>& log_ratio,
          bool blur)
      : n_low_(low.size()), n_(low.size() + high.size()), y_(n_), root_(variance.cwiseInverse().cwiseSqrt()) {
    y_ << low.intensity, high.intensity;
    const Nodes a = nodes_of(low, blur), b = nodes_of(high, blur);
    log_q_.resize(n_, looks);
    weight_.resize(n_, looks);
    log_q_ << a.log_q, b.log_q;
    weight_ << a.weight, b.weight;
    fixed_ = log_ratio;
  }

  struct Solution {
    VectorXd c;  // spline coefficients, then the log ratio
    double misfit = std::numeric_limits<double>::infinity();
  };

  // Gauss-Newton from a straight fit of the logarithms.
  Solution solve(int count) {
    make_basis(count);
    Solution now = start(count);
    now.misfit = misfit(now.c);
    for (int step = 0; step < 60; ++step) {
      const auto [model, jacobian] = evaluate(now.c);
      const VectorXd change = solve_step(jacobian, y_ - model);
      double length = 1.0;
      Solution next;
      for (int halving = 0; halving < 30; ++halving, length /= 2) {
        next.c = now.c + length * change;
        next.misfit = misfit(next.c);
        if (next.misfit <= now.misfit) break;
      }
      if (!(next.misfit <= now.misfit)) return now;  // no way down: at rounding
      const bool settled = now.misfit - next.misfit <= 1e-12 * now.misfit || length * change.norm() < 1e-12;
      now = next;
      if (settled) return now;
    }
    now.misfit = std::numeric_limits<double>::infinity();  // not settled: another number of splines may
    return now;
  }

  CommonFit describe(int count, const Solution& at) {
    make_basis(count);
    CommonFit out;
    const auto [model, jacobian] = evaluate(at.c);
    out.model = model;
    out.log_ratio = at.c[count];
    out.jacobian = fixed_ ? MatrixXd(jacobian.leftCols(count)) : jacobian;
    out.influence = VectorXd::Zero(n_);
    if (fixed_) return out;
    // Row of the pseudo-inverse that belongs to the ratio, times the weights.
    const MatrixXd weighted = root_.asDiagonal() * jacobian;
    const MatrixXd inverse = weighted.completeOrthogonalDecomposition().pseudoInverse();
    out.influence = inverse.row(count).transpose().cwiseProduct(root_);
    return out;
  }

  Index points() const { return n_; }

 private:
  void make_basis(int count) {
    const double low = log_q_.minCoeff(), high = log_q_.maxCoeff();
    Basis basis(count, low, high);
    values_.resize(static_cast<std::size_t>(looks));
    for (int k = 0; k < looks; ++k) {
      MatrixXd& v = values_[static_cast<std::size_t>(k)];
      v.resize(count, n_);
      for (Index i = 0; i < n_; ++i) basis.values(log_q_(i, k), v.col(i));
    }
  }

  Solution start(int count) {
    // Points that are lost in their noise have no logarithm to start from.
    std::vector<Index> use;
    Index of_low = 0;
    for (Index i = 0; i < n_; ++i)
      if (y_[i] > 0 && y_[i] * root_[i] > 0.5) {
        use.push_back(i);
        if (i < n_low_) ++of_low;
      }
    if (of_low < 3 || static_cast<Index>(use.size()) - of_low < 3)
      throw NumericalError("the intensity in the overlap is not positive, so the curves have no ratio there.",
                           "Check the backgrounds of both, or compare them over a range of q that scatters.");
    const auto m = static_cast<Index>(use.size());
    MatrixXd design = MatrixXd::Zero(m, count + 1);
    VectorXd right(m);
    for (Index r = 0; r < m; ++r) {
      const Index i = use[static_cast<std::size_t>(r)];
      const double w = y_[i] * root_[i];
      design.row(r).head(count) = w * values_[looks / 2].col(i).transpose();
      const double ratio = i < n_low_ ? 0.0 : 1.0;
      design(r, count) = fixed_ ? 0.0 : w * ratio;
      right[r] = w * (std::log(y_[i]) - (fixed_ ? ratio * *fixed_ : 0.0));
    }
    Solution out;
    out.c = design.completeOrthogonalDecomposition().solve(right);
    if (fixed_) out.c[count] = *fixed_;
    return out;
  }

  VectorXd model(const VectorXd& c) const {
    const Index count = c.size() - 1;
    VectorXd out = VectorXd::Zero(n_);
    for (int k = 0; k < looks; ++k) {
      const VectorXd log_i = values_[static_cast<std::size_t>(k)].transpose() * c.head(count);
      out.array() += weight_.col(k).array() * log_i.array().exp();
    }
    out.tail(n_ - n_low_) *= std::exp(c[count]);
    return out;
  }

  std::pair<VectorXd, MatrixXd> evaluate(const VectorXd& c) const {
    const Index count = c.size() - 1;
    MatrixXd jacobian = MatrixXd::Zero(n_, count + 1);
    VectorXd total = VectorXd::Zero(n_);
    for (int k = 0; k < looks; ++k) {
      const MatrixXd& v = values_[static_cast<std::size_t>(k)];
      VectorXd part = v.transpose() * c.head(count);
      part = weight_.col(k).array() * part.array().exp();
      part.tail(n_ - n_low_) *= std::exp(c[count]);
      total += part;
      jacobian.leftCols(count) += part.asDiagonal() * v.transpose();
    }
    if (!fixed_) jacobian.col(count).tail(n_ - n_low_) = total.tail(n_ - n_low_);
    return {total, jacobian};
  }

  VectorXd solve_step(const MatrixXd& jacobian, const VectorXd& residual) const {
    return MatrixXd(root_.asDiagonal() * jacobian)
        .completeOrthogonalDecomposition()
        .solve(root_.cwiseProduct(residual));
  }

  double misfit(const VectorXd& c) const {
    const double sum = root_.cwiseProduct(y_ - model(c)).squaredNorm();
    return std::isfinite(sum) ? sum : std::numeric_limits<double>::infinity();
  }

  Index n_low_, n_;
  VectorXd y_, root_;
  MatrixXd log_q_, weight_;
  std::optional<double> fixed_;
  std::vector<MatrixXd> values_;  // one a look: (count, n)
};

}  // namespace

CommonFit fit_common_curve(const Curve& low, const Curve& high, const VectorXd& variance,
                           const std::optional<double>& log_ratio, bool blur) {
  quiet_gsl();
  Problem problem(low, high, variance, log_ratio, blur);
  const auto n = static_cast<double>(problem.points());
  // A cubic at least: its curvature costs the ratio little, and a straight line would bias it.
  // A third of the points at most, so that the spline cannot weave between two curves that disagree.
  const int most = std::clamp(static_cast<int>(n / 3), 2, 24);
  int best = 0;
  double best_score = std::numeric_limits<double>::infinity();
  Problem::Solution solution;
  for (int count = std::min(4, most); count <= most; ++count) {
    const Problem::Solution now = problem.solve(count);
    const double score = now.misfit + 2.0 * count;
    if (score < best_score) {
      best_score = score;
      best = count;
      solution = now;
    }
  }
  if (best == 0)
    throw NumericalError("the common curve of the overlap did not settle.",
                         "Compare the curves over a narrower range of q.");
  return problem.describe(best, solution);
}

}  // namespace sievelight
