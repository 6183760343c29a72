// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/log_density.hpp"

#include "sievelight/distribution/smoothness.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

constexpr double largest_g = 60.0;  // e^60 is beyond any data; keeps a wild trial step finite

double ln_determinant(const Eigen::LLT<Eigen::MatrixXd>& llt) {
  return 2 * llt.matrixLLT().diagonal().array().log().sum();
}

}  // namespace

LogDensity make_log_density(const Compressed& data, Eigen::Index nodes, int order) {
  LogDensity out;
  out.m = data.m;
  out.y = data.y;
  out.nodes = nodes;
  out.power_law = data.m.cols() > nodes;
  out.order = order;
  out.penalty = Eigen::MatrixXd::Zero(data.m.cols(), data.m.cols());
  const Eigen::MatrixXd d = difference_matrix(nodes, order);
  out.penalty.topLeftCorner(nodes, nodes) = d.transpose() * d;
  out.gram = data.m.transpose() * data.m;
  return out;
}

void evaluate(const LogDensity& problem, const Eigen::VectorXd& g, Misfit& out) {
  const Eigen::Index last = problem.nodes - 1;
  out.x = g.array().min(largest_g).exp();
  out.residual.noalias() = problem.m * out.x;
  out.residual -= problem.y;
  out.gradient.noalias() = problem.m.transpose() * out.residual;
  out.gradient.array() *= out.x.array();
  out.value = 0.5 * out.residual.squaredNorm();
  const double w = 1 / (problem.edge_sd * problem.edge_sd);
  for (const Eigen::Index j : {Eigen::Index{0}, last}) {
    const double off = g[j] - problem.edge_centre;
    out.value += 0.5 * w * off * off;
    out.gradient[j] += w * off;
  }
  if (problem.power_law) {
    // K = scale * e^kappa with K half-normal: -ln p(kappa) = e^(2 kappa)/2 - kappa.
    const double k = out.x[problem.nodes];
    out.value += 0.5 * k * k - g[problem.nodes];
    out.gradient[problem.nodes] += k * k - 1;
  }
}

Eigen::MatrixXd curvature(const LogDensity& problem, const Eigen::MatrixXd& x_outer) {
  Eigen::MatrixXd h = problem.gram.cwiseProduct(x_outer);
  const double w = 1 / (problem.edge_sd * problem.edge_sd);
  h(0, 0) += w;
  h(problem.nodes - 1, problem.nodes - 1) += w;
  if (problem.power_law) h(problem.nodes, problem.nodes) += std::max(2 * x_outer(problem.nodes, problem.nodes), 0.3);
  return h;
}

MostProbable most_probable(const LogDensity& problem, double ln_strength, const Eigen::VectorXd& start) {
  const double strength = std::exp(ln_strength);
  const Eigen::MatrixXd prior = strength * problem.penalty;
  MostProbable out;
  out.ln_strength = ln_strength;
  out.g = start;
  Misfit here, there;
  evaluate(problem, out.g, here);
  const auto total = [&](const Misfit& f, const Eigen::VectorXd& g) { return f.value + 0.5 * g.dot(prior * g); };
  double value = total(here, out.g);
  double damping = 0;
  Eigen::MatrixXd h;
  for (int step = 0; step < 200; ++step) {
    h = curvature(problem, here.x * here.x.transpose()) + prior;
    const Eigen::VectorXd gradient = here.gradient + prior * out.g;
    Eigen::MatrixXd damped = h;
    damped.diagonal().array() += damping;
    Eigen::VectorXd move = -damped.llt().solve(gradient);
    const double decrement = -gradient.dot(move);
    if (!(decrement > 1e-7 * (1 + damping))) {
      out.converged = std::isfinite(decrement);
      break;
    }
    const double longest = move.cwiseAbs().maxCoeff();
    if (longest > 2) move *= 2 / longest;
    const Eigen::VectorXd trial = out.g + move;
    evaluate(problem, trial, there);
    const double new_value = total(there, trial);
    if (new_value < value) {
      out.g = trial;
      value = new_value;
      std::swap(here, there);
      damping = damping < 1e-3 ? 0 : damping / 5;
    } else {
      damping = std::max(damping * 4, 1e-2);
      if (damping > 1e8) break;
    }
  }
  h = curvature(problem, here.x * here.x.transpose());
  const Eigen::LLT<Eigen::MatrixXd> llt(h + prior);
  out.chi2 = here.residual.squaredNorm();
  out.effective = llt.solve(problem.gram.cwiseProduct(here.x * here.x.transpose())).trace();
  out.ln_evidence = -value + 0.5 * problem.dof() * ln_strength - 0.5 * ln_determinant(llt);
  return out;
}

Eigen::MatrixXd density_covariance(const LogDensity& problem, const MostProbable& at) {
  const Eigen::VectorXd x = at.g.array().min(largest_g).exp();
  const Eigen::MatrixXd h = curvature(problem, x * x.transpose()) + std::exp(at.ln_strength) * problem.penalty;
  const Eigen::MatrixXd inverse = h.llt().solve(Eigen::MatrixXd::Identity(h.rows(), h.cols()));
  return x.asDiagonal() * inverse * x.asDiagonal();
}

std::vector<MostProbable> most_probable_path(const LogDensity& problem, const Range& ln_strength, int count,
                                             const Eigen::VectorXd& start) {
  std::vector<MostProbable> path;
  Eigen::VectorXd g = start;
  for (int k = 0; k < count; ++k) {
    const double at = ln_strength.high - (ln_strength.high - ln_strength.low) * k / (count - 1);
    path.push_back(most_probable(problem, at, g));
    g = path.back().g;
  }
  std::reverse(path.begin(), path.end());
  return path;
}

}  // namespace sievelight
