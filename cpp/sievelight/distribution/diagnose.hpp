// SPDX-License-Identifier: GPL-3.0-or-later
/// Have the chains converged, how many independent draws are they worth, and what do the draws say?
/// Sources: A. Gelman et al. 2013, Bayesian Data Analysis, 3rd ed., 11.4-11.5 (split R-hat, effective sample size);
/// C. Geyer 1992, Stat. Sci. 7, 473 (initial monotone sequence). From memory; checked on autoregressive series.
#pragma once

#include "sievelight/base/range.hpp"

#include <Eigen/Core>
#include <array>
#include <vector>

namespace sievelight {

/// Split R-hat of equally long chains: 1 when all halves of all chains agree. NaN for constant chains.
double split_r_hat(const std::vector<Eigen::VectorXd>& chains);

/// Effective number of independent draws for the mean of a quantity over all chains.
double effective_draws(const std::vector<Eigen::VectorXd>& chains);

/// Quantile by linear interpolation between order statistics; NaN values are left out, NaN when none remains.
double quantile(const Eigen::VectorXd& values, double probability);

/// The same of n numbers sorted already, `stride` apart, none of them NaN; n >= 1.
double quantile_of_sorted(const double* sorted, Eigen::Index n, Eigen::Index stride, double probability);

/// Ends of the central 95 and 68.27 % (what a normal distribution holds within one standard deviation), and the median.
inline constexpr std::array band_probabilities{0.025, 0.158655, 0.5, 0.841345, 0.975};

/// Median, standard deviation, and the central 68.27 and 95 % intervals of draws. NaN draws are left out.
Estimate summarise(const Eigen::VectorXd& draws);

}  // namespace sievelight
