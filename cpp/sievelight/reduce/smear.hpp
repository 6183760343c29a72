// SPDX-License-Identifier: GPL-3.0-or-later
/// The slit of slit.hpp as a matrix on sampled curves: J = S I.
/// I is taken between its samples by a polynomial in ln q (linear or cubic), below the first as constant, and beyond
/// the last as I(q_last) (q_last/q)^p with the declared exponent p. Every part between samples and knots of the profile
/// is integrated by a Gauss rule.
#pragma once

#include "sievelight/reduce/slit.hpp"

namespace sievelight {

enum class Interpolation {
  linear,  // never overshoots: for data
  cubic,   // through four samples: for models, error 6 h^4 of q^-4 with steps h of ln q
};

struct SmearOptions {
  Interpolation interpolation = Interpolation::cubic;
  double high_q_exponent = 4.0;  // p beyond the last sample; 4 is Porod's law of sharp interfaces
};

struct SmearingMatrix {
  Eigen::VectorXd q_out_per_nm;  // (m)
  Eigen::VectorXd q_in_per_nm;   // (n)
  Eigen::MatrixXd matrix;        // (m, n); for an infinite slit in 1/nm
  /// (m) the part of the last column that stands for I beyond the last sample: times I(q_last), what J owes to the
  /// extrapolation.
  Eigen::VectorXd beyond;
};

/// InputError unless q_in is positive and rising with two samples or more, q_out is positive, and, for an infinite
/// slit, p > 1 (else the integral has no end).
SmearingMatrix smearing_matrix(const Eigen::VectorXd& q_out_per_nm, const Eigen::VectorXd& q_in_per_nm,
                               const SlitProfile& profile, const SmearOptions& options = {});

}  // namespace sievelight
