// SPDX-License-Identifier: GPL-3.0-or-later
/// How rare a count is where a level is expected that is itself known from a few pixels only.
/// With a Gamma(level m + 1/2, m) posterior (Jeffreys' prior) the predictive distribution is negative binomial.
/// Source: Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, section 2.6.
#pragma once

namespace sievelight {

/// Chance of more than `n` counts where the mean of `m` pixels is `level`; m need not be whole.
double chance_of_more_than(double n, double level, double m);
/// Chance of at most `n` counts.
double chance_of_at_most(double n, double level, double m);

}  // namespace sievelight
