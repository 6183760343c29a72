// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/preview.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <vector>

namespace sievelight {
namespace {

// Second differences with zeros beyond both ends, which makes the penalty positive definite.
Eigen::MatrixXd penalty(Eigen::Index nodes, Eigen::Index columns, double unit, double rest) {
  Eigen::MatrixXd d = Eigen::MatrixXd::Zero(nodes, nodes);
  d.diagonal().setConstant(-2);
  d.diagonal(1).setOnes();
  d.diagonal(-1).setOnes();
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(columns, columns);
  out.topLeftCorner(nodes, nodes) = unit * (d.transpose() * d);
  for (Eigen::Index j = nodes; j < columns; ++j) out(j, j) = rest;
  return out;
}

std::vector<Eigen::Index> active(const Eigen::VectorXd& x) {
  std::vector<Eigen::Index> out;
  for (Eigen::Index j = 0; j < x.size(); ++j)
    if (x[j] > 0) out.push_back(j);
  return out;
}

// Minimum over the unknowns in `set`, the others zero.
Eigen::VectorXd solve_on(const Eigen::MatrixXd& h, const Eigen::VectorXd& b, const std::vector<Eigen::Index>& set) {
  Eigen::VectorXd x = Eigen::VectorXd::Zero(b.size());
  if (set.empty()) return x;
  const Eigen::MatrixXd part = h(set, set);
  const Eigen::VectorXd right = b(set);
  x(set) = part.llt().solve(right).eval();
  return x;
}

// Swaps every unknown on the wrong side at once: a dozen solves from nothing, two or three from the set of a
// neighbouring strength, but may cycle when H is nearly singular.
std::optional<Eigen::VectorXd> pivot_blocks(const Eigen::MatrixXd& h, const Eigen::VectorXd& b, double tolerance,
                                            std::vector<Eigen::Index> set) {
  const Eigen::Index p = b.size();
  Eigen::VectorXd x = solve_on(h, b, set), slope = h * x - b;
  for (int step = 0; step < 40; ++step) {
    std::vector<Eigen::Index> next;
    bool wrong = false;
    std::size_t k = 0;
    for (Eigen::Index j = 0; j < p; ++j) {
      const bool free = k < set.size() && set[k] == j;
      if (free) ++k;
      const bool swap = free ? x[j] < 0 : slope[j] < -tolerance;
      wrong = wrong || swap;
      if (free != swap) next.push_back(j);
    }
    if (!wrong) return x;
    set = std::move(next);
    x = solve_on(h, b, set);
    slope = h * x - b;
  }
  return std::nullopt;
}

// C. Lawson, R. Hanson 1974, Solving Least Squares Problems, ch. 23: one unknown in at a time, never cycles.
Eigen::VectorXd grow_active_set(const Eigen::MatrixXd& h, const Eigen::VectorXd& b, double tolerance) {
  const Eigen::Index p = b.size();
  Eigen::VectorXd x = Eigen::VectorXd::Zero(p);
  std::vector<Eigen::Index> set;
  for (int step = 0; step < 20 * static_cast<int>(p); ++step) {
    Eigen::VectorXd gain = b - h * x;
    for (const Eigen::Index j : set) gain[j] = 0;
    Eigen::Index best = 0;
    if (gain.maxCoeff(&best) <= tolerance) return x;
    set.insert(std::upper_bound(set.begin(), set.end(), best), best);
    for (;;) {
      const Eigen::VectorXd target = solve_on(h, b, set);
      double share = 1;
      for (const Eigen::Index j : set)
        if (target[j] <= 0 && x[j] - target[j] > 0) share = std::min(share, x[j] / (x[j] - target[j]));
      x += share * (target - x);
      if (share >= 1) break;
      std::erase_if(set, [&](Eigen::Index j) { return x[j] <= 1e-14 * x.maxCoeff(); });
      for (Eigen::Index j = 0; j < p; ++j)
        if (!std::binary_search(set.begin(), set.end(), j)) x[j] = 0;
    }
  }
  throw NumericalError(fmt::format("the non-negative fit of {} unknowns did not finish.", p),
                       "Check the curve for points with extreme values or uncertainties.");
}

double ln_determinant(const Eigen::MatrixXd& m) {
  return m.rows() > 0 ? 2 * Eigen::LLT<Eigen::MatrixXd>(m).matrixLLT().diagonal().array().log().sum() : 0.0;
}

}  // namespace

Eigen::VectorXd solve_non_negative(const Eigen::MatrixXd& h_given, const Eigen::VectorXd& b_given,
                                   const std::vector<Eigen::Index>& start) {
  // In units in which H has a unit diagonal: sizes differ by 10^12 in how strongly they scatter.
  const Eigen::VectorXd unit = h_given.diagonal().array().max(std::numeric_limits<double>::min()).rsqrt();
  const Eigen::MatrixXd h = unit.asDiagonal() * h_given * unit.asDiagonal();
  const Eigen::VectorXd b = unit.cwiseProduct(b_given);
  const double tolerance = 1e-9 * (b.cwiseAbs().maxCoeff() + std::numeric_limits<double>::min());
  if (auto x = pivot_blocks(h, b, tolerance, start)) return unit.cwiseProduct(*x);
  return unit.cwiseProduct(grow_active_set(h, b, tolerance));
}

Tikhonov::Tikhonov(const Compressed& data, Eigen::Index nodes)
    : data_(data), gram_(data.m.transpose() * data.m), b_(data.m.transpose() * data.y) {
  const Eigen::Index p = data.m.cols();
  // Strengths relative to the data's own curvature.
  const double unit = gram_.topLeftCorner(nodes, nodes).trace() / static_cast<double>(nodes);
  shape_ = penalty(nodes, p, unit, p > nodes ? 1e-8 * gram_(p - 1, p - 1) : 0.0);
  nodes_ = nodes;
}

Eigen::MatrixXd Tikhonov::prior(double log10_strength) const {
  Eigen::MatrixXd out = shape_;
  out.topLeftCorner(nodes_, nodes_) *= std::pow(10.0, log10_strength);
  return out;
}

std::optional<Tikhonov::Fit> Tikhonov::at(double log10_strength) {
  Fit out{log10_strength, 0, 0, solve_non_negative(gram_ + prior(log10_strength), b_, last_), {}};
  last_ = out.set = active(out.x);
  if (out.set.empty()) return std::nullopt;
  out.chi2 = (data_.m * out.x - data_.y).squaredNorm() + data_.rest;
  out.rough = out.x.dot(shape_ * out.x);
  return out;
}

double Tikhonov::ln_evidence(const Fit& fit) const {
  const Eigen::MatrixXd whole = prior(fit.log10_strength), prior_set = whole(fit.set, fit.set);
  const Eigen::MatrixXd h_set = gram_(fit.set, fit.set) + prior_set;
  return -0.5 * (fit.chi2 + fit.x.dot(whole * fit.x)) + 0.5 * ln_determinant(prior_set) - 0.5 * ln_determinant(h_set);
}

double Tikhonov::effective(const Fit& fit) const {
  const Eigen::MatrixXd gram_set = gram_(fit.set, fit.set);
  return (gram_set + prior(fit.log10_strength)(fit.set, fit.set)).llt().solve(gram_set).trace();
}

double Tikhonov::cross_validation(const Fit& fit) const {
  const auto points = static_cast<double>(data_.back.rows());
  const double free = std::max(1.0, points - 1 - effective(fit));
  return points * fit.chi2 / (free * free);
}

std::vector<double> corner_curvature(const std::vector<Tikhonov::Fit>& path) {
  std::vector<double> out(path.size(), -std::numeric_limits<double>::infinity());
  const auto ln = [](double v) { return std::log(std::max(v, 1e-300)); };
  for (std::size_t k = 1; k + 1 < path.size(); ++k) {
    const double xm = ln(path[k - 1].chi2), x0 = ln(path[k].chi2), xp = ln(path[k + 1].chi2);
    const double ym = ln(path[k - 1].rough), y0 = ln(path[k].rough), yp = ln(path[k + 1].rough);
    const double dx = (xp - xm) / 2, dy = (yp - ym) / 2, ddx = xp - 2 * x0 + xm, ddy = yp - 2 * y0 + ym;
    const double speed = dx * dx + dy * dy;
    if (speed > 1e-12) out[k] = (dx * ddy - dy * ddx) / std::pow(speed, 1.5);
  }
  return out;
}

Preview preview(const Compressed& data, Eigen::Index nodes, StrengthRule rule) {
  Tikhonov problem(data, nodes);
  std::vector<Tikhonov::Fit> path;
  std::vector<double> score;  // the best is the largest
  const auto add = [&](double log10_strength) {
    auto fit = problem.at(log10_strength);
    if (!fit) return;
    if (rule == StrengthRule::evidence) score.push_back(problem.ln_evidence(*fit));
    if (rule == StrengthRule::cross_validation) score.push_back(-problem.cross_validation(*fit));
    path.push_back(std::move(*fit));
  };
  const auto highest = [&score] { return std::max_element(score.begin(), score.end()); };
  // From stiff to weak. The corner of a curve needs fine steps everywhere, the top of a hill only around itself; and
  // evidence that has fallen by e^30 does not come back: what is left to gain in chi^2 is already spent.
  const bool corner = rule == StrengthRule::l_curve;
  constexpr double hopeless = 30;
  for (double log10_strength = stiffest; log10_strength >= weakest - 0.01; log10_strength -= corner ? 0.25 : 1.0) {
    add(log10_strength);
    const std::size_t n = score.size();
    if (rule == StrengthRule::evidence && n > 2 && std::max(score[n - 1], score[n - 2]) < *highest() - hopeless) break;
  }
  if (path.empty())
    throw NumericalError("no scattering above the background was found; every size has zero volume.",
                         "Check the background subtraction and its scale, and the q range.");
  if (corner) {
    std::reverse(path.begin(), path.end());
    score = corner_curvature(path);
  } else {
    const double top = path[static_cast<std::size_t>(highest() - score.begin())].log10_strength;
    for (const double beside : {top - 0.5, top + 0.5}) add(beside);
  }
  const Tikhonov::Fit& best = path[static_cast<std::size_t>(highest() - score.begin())];
  const auto& set = best.set;
  const Eigen::MatrixXd gram_set = problem.gram()(set, set);
  const Eigen::LLT<Eigen::MatrixXd> llt(gram_set + problem.prior(best.log10_strength)(set, set));
  Preview out;
  out.x = best.x;
  out.ln_strength = best.log10_strength * std::log(10.0);
  out.chi2 = best.chi2 - data.rest;
  out.effective = llt.solve(gram_set).trace();
  // h = L L^T, so h^-1 = L^-T L^-1.
  const auto size = static_cast<Eigen::Index>(set.size());
  const Eigen::MatrixXd inverse_root = llt.matrixU().solve(Eigen::MatrixXd::Identity(size, size));
  out.root = Eigen::MatrixXd::Zero(data.m.cols(), size);
  for (std::size_t k = 0; k < set.size(); ++k) out.root.row(set[k]) = inverse_root.row(static_cast<Eigen::Index>(k));
  return out;
}

}  // namespace sievelight
