// SPDX-License-Identifier: GPL-3.0-or-later
/// From the causes of a curve's error to the uncertainty of a number derived from it.
/// A summary y (a radius, a percentile) that depends on the data as dy = J . dI has the variance J^T C J with the
/// covariance C of curve.hpp; two summaries have the covariance J_a^T C_ab J_b through the ids that their curves share.
/// No (n, n) matrix is formed: a coherent cause costs one dot product.
/// Source: linear propagation with correlated inputs, JCGM 100:2008 (GUM) 5.2.2, eq. (13), and F.1.2.3 for two results.
#pragma once

#include "sievelight/curve/curve.hpp"

namespace sievelight {

/// J^T C J. `influence` is (n) dy/dI. InputError when its size is not the curve's.
double variance_of_summary(const Eigen::VectorXd& influence, const Curve& curve);

/// J_a^T C_ab J_b over the shared ids; private parts take no part, so this is not a variance when a and b are the same
/// curve. Pointwise ids need equal bins (InputError), and an id must be of one kind in both.
double covariance_of_summaries(const Eigen::VectorXd& influence_a, const Curve& a, const Eigen::VectorXd& influence_b,
                               const Curve& b);

/// What each cause adds to variance_of_summary: id -> variance, "counts" for the private part. The uncertainty budget.
std::map<std::string, double> variance_by_cause(const Eigen::VectorXd& influence, const Curve& curve);

}  // namespace sievelight
