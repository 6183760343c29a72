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

// Swaps every unknown on the wrong side at once: a dozen solves as a rule, but may cycle when H is nearly singular.
std::optional<Eigen::VectorXd> pivot_blocks(const Eigen::MatrixXd& h, const Eigen::VectorXd& b, double tolerance) {
  const Eigen::Index p = b.size();
  Eigen::VectorXd x = Eigen::VectorXd::Zero(p), slope = -b;
  std::vector<Eigen::Index> set;
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

Eigen::VectorXd solve_non_negative(const Eigen::MatrixXd& h_given, const Eigen::VectorXd& b_given) {
  // In units in which H has a unit diagonal: sizes differ by 10^12 in how strongly they scatter.
  const Eigen::VectorXd unit = h_given.diagonal().array().max(std::numeric_limits<double>::min()).rsqrt();
  const Eigen::MatrixXd h = unit.asDiagonal() * h_given * unit.asDiagonal();
  const Eigen::VectorXd b = unit.cwiseProduct(b_given);
  const double tolerance = 1e-9 * (b.cwiseAbs().maxCoeff() + std::numeric_limits<double>::min());
  if (auto x = pivot_blocks(h, b, tolerance)) return unit.cwiseProduct(*x);
  return unit.cwiseProduct(grow_active_set(h, b, tolerance));
}

Preview preview(const Compressed& data, Eigen::Index nodes, StrengthRule rule) {
  const Eigen::Index p = data.m.cols();
  const Eigen::MatrixXd gram = data.m.transpose() * data.m;
  const Eigen::VectorXd b = data.m.transpose() * data.y;
  // Strengths relative to the data's own curvature, from nearly unpenalised to very stiff.
  const double unit = gram.topLeftCorner(nodes, nodes).trace() / static_cast<double>(nodes);
  const Eigen::MatrixXd shape = penalty(nodes, p, unit, p > nodes ? 1e-8 * gram(p - 1, p - 1) : 0.0);
  const auto points = static_cast<double>(data.back.rows());
  struct Step {
    double log10_strength, chi2, rough, score;  // the best score is the largest
    Eigen::VectorXd x;
  };
  std::vector<Step> path;
  const auto add = [&](double log10_strength) {
    Eigen::MatrixXd prior = shape;
    prior.topLeftCorner(nodes, nodes) *= std::pow(10.0, log10_strength);
    const Eigen::MatrixXd h = gram + prior;
    Step at{log10_strength, 0, 0, 0, solve_non_negative(h, b)};
    const auto set = active(at.x);
    if (set.empty()) return;
    at.chi2 = (data.m * at.x - data.y).squaredNorm() + data.rest;
    at.rough = at.x.dot(shape * at.x);
    const Eigen::MatrixXd h_set = h(set, set);
    if (rule == StrengthRule::evidence) {
      const Eigen::MatrixXd prior_set = prior(set, set);
      at.score =
          -0.5 * (at.chi2 + at.x.dot(prior * at.x)) + 0.5 * ln_determinant(prior_set) - 0.5 * ln_determinant(h_set);
    } else if (rule == StrengthRule::cross_validation) {
      const Eigen::MatrixXd gram_set = gram(set, set);
      const double free = std::max(1.0, points - 1 - h_set.llt().solve(gram_set).trace());
      at.score = -points * at.chi2 / (free * free);
    }
    path.push_back(std::move(at));
  };
  const auto highest = [&path] {
    return std::max_element(path.begin(), path.end(),
                            [](const Step& left, const Step& right) { return left.score < right.score; });
  };
  // The corner of a curve needs fine steps everywhere, the top of a hill only around itself.
  const bool corner = rule == StrengthRule::l_curve;
  for (double log10_strength = -8; log10_strength <= 4.01; log10_strength += corner ? 0.25 : 1.0) add(log10_strength);
  if (!corner && !path.empty()) {
    const double top = highest()->log10_strength;
    for (const double beside : {top - 0.5, top + 0.5}) add(beside);
  }
  if (path.empty())
    throw NumericalError("no scattering above the background was found; every size has zero volume.",
                         "Check the background subtraction and its scale, and the q range.");
  if (rule == StrengthRule::l_curve) {
    // Curvature of (ln chi^2, ln rough) along ln strength, from central differences.
    for (Step& at : path) at.score = -std::numeric_limits<double>::infinity();
    for (std::size_t k = 1; k + 1 < path.size(); ++k) {
      const auto ln = [](double v) { return std::log(std::max(v, 1e-300)); };
      const double xm = ln(path[k - 1].chi2), x0 = ln(path[k].chi2), xp = ln(path[k + 1].chi2);
      const double ym = ln(path[k - 1].rough), y0 = ln(path[k].rough), yp = ln(path[k + 1].rough);
      const double dx = (xp - xm) / 2, dy = (yp - ym) / 2, ddx = xp - 2 * x0 + xm, ddy = yp - 2 * y0 + ym;
      const double speed = dx * dx + dy * dy;
      if (speed > 1e-12) path[k].score = (dx * ddy - dy * ddx) / std::pow(speed, 1.5);
    }
  }
  const Step& best = *highest();
  const double strength = std::pow(10.0, best.log10_strength);
  const auto set = active(best.x);
  Eigen::MatrixXd h = gram + shape;
  h.topLeftCorner(nodes, nodes) += (strength - 1) * shape.topLeftCorner(nodes, nodes);
  const Eigen::MatrixXd h_set = h(set, set), gram_set = gram(set, set);
  const Eigen::LLT<Eigen::MatrixXd> llt(h_set);
  Preview out;
  out.x = best.x;
  out.ln_strength = std::log(strength);
  out.chi2 = best.chi2 - data.rest;
  out.effective = llt.solve(gram_set).trace();
  // h = L L^T, so h^-1 = L^-T L^-1.
  const Eigen::MatrixXd inverse_root = llt.matrixU().solve(Eigen::MatrixXd::Identity(h_set.rows(), h_set.cols()));
  out.root = Eigen::MatrixXd::Zero(p, h_set.cols());
  for (std::size_t k = 0; k < set.size(); ++k) out.root.row(set[k]) = inverse_root.row(static_cast<Eigen::Index>(k));
  return out;
}

}  // namespace sievelight
