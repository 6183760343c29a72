// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/log_density.hpp"

#include "sievelight/base/exponential.hpp"
#include "sievelight/base/gsl.hpp"
#include "sievelight/base/matrix_vector.hpp"
#include "sievelight/distribution/smoothness.hpp"

#include <gsl/gsl_sf_erf.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <limits>

namespace sievelight {
namespace {

constexpr double largest_g = 60.0;  // e^60 is beyond any data; keeps a wild trial step finite

double ln_determinant(const Eigen::LLT<Eigen::MatrixXd>& llt) {
  return 2 * llt.matrixLLT().diagonal().array().log().sum();
}

}  // namespace

LogDensity make_log_density(const FitData& data, int order) {
  quiet_gsl();
  LogDensity out;
  out.m = data.compressed.m;
  out.mt = out.m.transpose();
  out.y = data.compressed.y;
  out.order = order;
  const Eigen::MatrixXd d = difference_matrix(out.nodes(), order);
  out.penalty = d.transpose() * d;
  out.gram = out.m.transpose() * out.m;
  if (data.power_law_integrated) {
    // K given x is normal with mean S^T Sigma^-1 r (S its direction) and a variance that does not depend on x.
    const double sd = data.noise.amplitude_root()(0, 0);
    const Eigen::VectorXd s = data.noise.whiten(data.noise.shared().col(0)) / sd;
    out.sign = data.compressed.back.transpose() * s;
    out.sign_offset = s.dot(data.noise.whiten(data.intensity).col(0)) - out.sign.dot(out.y);
    const Eigen::VectorXd pull = out.m.transpose() * out.sign;
    out.gram += 0.5 * pull * pull.transpose();
  }
  return out;
}

Eigen::VectorXd density(const Eigen::VectorXd& g) {
  Eigen::VectorXd x = g.cwiseMin(largest_g);
  exponentials(x.data(), x.size(), x.data());
  return x;
}

void evaluate(const LogDensity& problem, const Eigen::VectorXd& g, Misfit& out) {
  out.x = g.cwiseMin(largest_g);
  exponentials(out.x.data(), out.x.size(), out.x.data());
  multiply(problem.m, out.x, out.residual);
  out.residual -= problem.y;
  out.value = 0.5 * out.residual.squaredNorm();
  if (problem.sign.size() == 0) {
    multiply(problem.mt, out.residual, out.gradient);
  } else {
    const double z = problem.sign_offset - problem.sign.dot(out.residual);
    // -ln Phi(z) and its slope, both safe far below zero.
    out.value -= gsl_sf_log_erfc(-z / std::sqrt(2.0));
    const double slope = gsl_sf_hazard(-z);
    multiply(problem.mt, out.residual + slope * problem.sign, out.gradient);
  }
  out.gradient.array() *= out.x.array();
  const double w = 1 / (problem.edge_sd * problem.edge_sd);
  for (const Eigen::Index j : {Eigen::Index{0}, problem.nodes() - 1}) {
    const double off = g[j] - problem.edge_centre;
    out.value += 0.5 * w * off * off;
    out.gradient[j] += w * off;
  }
}

Eigen::MatrixXd curvature(const LogDensity& problem, const Eigen::MatrixXd& x_outer) {
  Eigen::MatrixXd h = problem.gram.cwiseProduct(x_outer);
  const double w = 1 / (problem.edge_sd * problem.edge_sd);
  h(0, 0) += w;
  h(problem.nodes() - 1, problem.nodes() - 1) += w;
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
    if (!(decrement > 1e-5 * (1 + damping))) {
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
  const Eigen::VectorXd x = density(at.g);
  const Eigen::MatrixXd h = curvature(problem, x * x.transpose()) + std::exp(at.ln_strength) * problem.penalty;
  const Eigen::MatrixXd inverse = h.llt().solve(Eigen::MatrixXd::Identity(h.rows(), h.cols()));
  return x.asDiagonal() * inverse * x.asDiagonal();
}

std::vector<MostProbable> most_probable_path(const LogDensity& problem, const Range& ln_strength, int count,
                                             const Eigen::VectorXd& start) {
  std::vector<MostProbable> path;
  Eigen::VectorXd g = start;
  double best = -std::numeric_limits<double>::infinity();
  for (int k = 0; k < count; ++k) {
    const double at = ln_strength.high - (ln_strength.high - ln_strength.low) * k / (count - 1);
    path.push_back(most_probable(problem, at, g));
    g = path.back().g;
    best = std::max(best, path.back().ln_evidence);
    if (path.size() > 2 && path.back().ln_evidence < best - 15) break;
  }
  std::reverse(path.begin(), path.end());
  return path;
}

}  // namespace sievelight
