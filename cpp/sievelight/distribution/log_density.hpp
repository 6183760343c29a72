// SPDX-License-Identifier: GPL-3.0-or-later
/// The posterior of g = ln density: value, gradient, curvature, most probable point and its evidence.
/// U(g | strength) = 1/2 |M e^g - y|^2 - ln Phi(K / sd) + strength/2 |D g|^2 + edge; x = e^g in units of `reference`.
/// K q^-4 with K >= 0, where fitted, is integrated out: its Gaussian part is in the whitening, and what remains of the
/// half-normal prior is the probability Phi that K, normal given x, is positive.
/// Edge: the outermost nodes (outside the window) prefer a level below the mean, N(-3, 4^2) in ln, loose enough that a
/// distribution may run over the edge.
#pragma once

#include "sievelight/base/range.hpp"
#include "sievelight/distribution/fit_data.hpp"

#include <vector>

namespace sievelight {

struct LogDensity {
  Eigen::MatrixXd m;        // (r, p) whitened kernel per unit of x; p sizes
  Eigen::MatrixXd mt;       // (p, r) the same transposed
  Eigen::VectorXd y;        // (r)
  int order = 2;            // of the smoothness prior
  Eigen::MatrixXd penalty;  // (p, p) D^T D
  double edge_centre = -3.0, edge_sd = 4.0;
  // K / sd = sign_offset + sign . (y - M x); empty when there is no K.
  Eigen::VectorXd sign;
  double sign_offset = 0.0;
  Eigen::MatrixXd gram;  // (p, p) curvature of the data in x: M^T M, plus half of what the sign can add

  Eigen::Index nodes() const { return m.cols(); }
  double dof() const { return static_cast<double>(m.cols() - order); }
};

/// Builds the problem from compressed data whose columns are already in units of the reference level.
LogDensity make_log_density(const FitData& data, int order);

/// x = e^g, held finite.
Eigen::VectorXd density(const Eigen::VectorXd& g);

/// The part of U without the smoothness term, and its gradient at g; x and the residual come out too.
struct Misfit {
  double value = 0.0;
  Eigen::VectorXd x, residual, gradient;
};
void evaluate(const LogDensity& problem, const Eigen::VectorXd& g, Misfit& out);

/// Curvature of the misfit (Gauss-Newton: positive semi-definite) where x x^T has the given value (or mean).
Eigen::MatrixXd curvature(const LogDensity& problem, const Eigen::MatrixXd& x_outer);

/// The most probable g at a fixed strength.
struct MostProbable {
  double ln_strength = 0.0;
  Eigen::VectorXd g;
  double chi2 = 0.0;         // |M e^g - y|^2
  double ln_evidence = 0.0;  // Laplace approximation, up to a constant shared by all strengths
  double effective = 0.0;    // effective number of parameters
  bool converged = false;
};
MostProbable most_probable(const LogDensity& problem, double ln_strength, const Eigen::VectorXd& start);

/// (p, p) Gaussian approximation of the covariance of x = e^g around a most probable point.
Eigen::MatrixXd density_covariance(const LogDensity& problem, const MostProbable& at);

/// The same as most_probable() over `count` strengths across a range, rising. Walked from strong to weak, each started
/// from the one before, and ended early where the evidence has fallen to e^-15 of its best.
std::vector<MostProbable> most_probable_path(const LogDensity& problem, const Range& ln_strength, int count,
                                             const Eigen::VectorXd& start);

}  // namespace sievelight
