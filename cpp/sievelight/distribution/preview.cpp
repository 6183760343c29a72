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

Preview preview(const Compressed& data, Eigen::Index nodes) {
  const Eigen::Index p = data.m.cols();
  const Eigen::MatrixXd gram = data.m.transpose() * data.m;
  const Eigen::VectorXd b = data.m.transpose() * data.y;
  // Strengths relative to the data's own curvature, from nearly unpenalised to very stiff.
  const double unit = gram.topLeftCorner(nodes, nodes).trace() / static_cast<double>(nodes);
  const Eigen::MatrixXd shape = penalty(nodes, p, unit, p > nodes ? 1e-8 * gram(p - 1, p - 1) : 0.0);
  Preview best;
  double best_evidence = -std::numeric_limits<double>::infinity();
  for (double log10_strength = -8; log10_strength <= 4.01; log10_strength += 0.5) {
    const double strength = std::pow(10.0, log10_strength);
    Eigen::MatrixXd prior = shape;
    prior.topLeftCorner(nodes, nodes) *= strength;
    const Eigen::MatrixXd h = gram + prior;
    const Eigen::VectorXd x = solve_non_negative(h, b);
    const auto set = active(x);
    if (set.empty()) continue;
    const Eigen::MatrixXd h_set = h(set, set), prior_set = prior(set, set), gram_set = gram(set, set);
    const double chi2 = (data.m * x - data.y).squaredNorm();
    const double evidence =
        -0.5 * (chi2 + x.dot(prior * x)) + 0.5 * ln_determinant(prior_set) - 0.5 * ln_determinant(h_set);
    if (!(evidence > best_evidence)) continue;
    best_evidence = evidence;
    const Eigen::LLT<Eigen::MatrixXd> llt(h_set);
    best.x = x;
    best.ln_strength = std::log(strength);
    best.chi2 = chi2;
    best.effective = llt.solve(gram_set).trace();
    // h = L L^T, so h^-1 = L^-T L^-1.
    const Eigen::MatrixXd inverse_root = llt.matrixU().solve(Eigen::MatrixXd::Identity(h_set.rows(), h_set.cols()));
    best.root = Eigen::MatrixXd::Zero(p, h_set.cols());
    for (std::size_t k = 0; k < set.size(); ++k) best.root.row(set[k]) = inverse_root.row(static_cast<Eigen::Index>(k));
  }
  if (best.x.size() == 0)
    throw NumericalError("no scattering above the background was found; every size has zero volume.",
                         "Check the background subtraction and its scale, and the q range.");
  return best;
}

}  // namespace sievelight
