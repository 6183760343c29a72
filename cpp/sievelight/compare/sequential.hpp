// SPDX-License-Identifier: GPL-3.0-or-later
/// Group-sequential limits: looking at a growing experiment several times, planned beforehand, at one error rate.
/// A one-sided statistic with independent increments (z_k at information fraction t_k, correlation sqrt(t_j / t_k)) is
/// looked at K times. The limits c_k spend the error: P(z_1 < c_1, ..., z_(k-1) < c_(k-1), z_k >= c_k) = a(t_k) -
/// a(t_(k-1)), with a(1) = alpha (K. K. G. Lan, D. L. DeMets, Biometrika 70 (1983) 659):
///   obrien_fleming  a(t) = 2 (1 - Phi(Phi^-1(1 - alpha / 2) / sqrt t))   hardly anything early, nearly all at the end
///   pocock          a(t) = alpha ln(1 + (e - 1) t)                       much the same at every look
/// The probabilities are integrated from look to look (P. Armitage, C. K. McPherson, B. C. Rowe, J. R. Stat. Soc. A 132
/// (1969) 235; all three from memory). For t statistics the p-value is compared with the level 1 - Phi(c_k) (C.
/// Jennison, B. W. Turnbull, Group Sequential Methods, 2000, from memory); what that does with 2 to 4 samples is
/// measured in sequential_test.cpp. Two one-sided tests: "equivalent" needs both, so each has the whole alpha at its
/// own margin, and so has "different".
#pragma once

#include <Eigen/Core>

namespace sievelight {

enum class Spending { obrien_fleming, pocock };

struct SequentialLimits {
  Eigen::VectorXd fraction;  // (K) information at each look over that at the last
  Eigen::VectorXd spent;     // (K) a(t_k)
  Eigen::VectorXd z;         // (K) c_k
  Eigen::VectorXd level;     // (K) 1 - Phi(c_k): what a one-sided p-value is compared with
};

/// InputError unless the fractions rise from above 0 to 1 (at most 20 of them) and alpha lies between 0 and 0.5.
SequentialLimits sequential_limits(const Eigen::VectorXd& fractions, double alpha, Spending spending);

/// (K) probability of crossing the limits for the first time at each look, when the statistic's drift is zero.
Eigen::VectorXd first_crossings(const Eigen::VectorXd& fractions, const Eigen::VectorXd& z);

}  // namespace sievelight
