// SPDX-License-Identifier: GPL-3.0-or-later
/// Draws from the posterior of one model, or of several in given proportions, until they are worth enough.
/// Enough: 400 independent draws of x50, mean, width and background, and split R-hat below 1.02 (A. Gelman et al. 2013,
/// Bayesian Data Analysis, 3rd ed., 11.5, from memory, for both). Chains that do not get there in fifteen rounds, each
/// after the first half as long as it, say so.
#pragma once

#include "sievelight/distribution/also_fit.hpp"
#include "sievelight/distribution/describe.hpp"

namespace sievelight {

/// One set of draws a prior and model, the first prior's first. Fills the fields of `out` that speak of convergence and
/// of the strength, and warns where the two priors disagree. The sets point into `models`.
std::vector<DrawSet> draw_models(const std::vector<WeightedModel>& models, const InvertOptions& options,
                                 SizeDistribution& out);

}  // namespace sievelight
