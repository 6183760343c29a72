// SPDX-License-Identifier: GPL-3.0-or-later
/// A number of the model that is found together with the sizes: the hard spheres' volume fraction, or the exponent of
/// the power law. Its posterior is the evidence of the model over equally spaced values (a flat prior over the allowed
/// range), found on a grid that is narrowed until it is about as fine as the answer is sharp; the draws of the sizes
/// are then taken from the models in these proportions, so every band holds what the number leaves open.
#pragma once

#include "sievelight/distribution/model_fit.hpp"

#include <functional>

namespace sievelight {

enum class AlsoFit { nothing, hard_sphere_fraction, power_exponent };
/// "nothing", "hard_sphere_fraction", "power_exponent".
const char* name(AlsoFit what);

/// Values that are allowed: fractions 0 to 0.5, exponents 3 to 4.
Range allowed(AlsoFit what);

/// One value with its model, and the share of the posterior that it stands for under each prior.
struct WeightedModel {
  double value = 0;
  ModelFit model;
  std::array<double, 2> weight{};
};

/// Models on an even grid of values that carries the posterior under both priors, weights summing to 1 for each.
/// @param range of the values; @param make fits the model of one value.
std::vector<WeightedModel> weigh_models(const Range& range, const std::function<ModelFit(double)>& make);

}  // namespace sievelight
