// SPDX-License-Identifier: GPL-3.0-or-later
/// What a comparison of batches passes on: the means as values of a comparison of recipes, and the errors that a new
/// experiment is sized by.
#pragma once

#include "sievelight/compare/batches.hpp"
#include "sievelight/compare/sizing.hpp"

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

namespace sievelight {

/// Several batches of one recipe speak for the recipe: their means are its samples.
struct BatchMeans {
  std::vector<std::string> batches;
  Eigen::VectorXd mean;        // (k) in the values' unit
  Eigen::MatrixXd covariance;  // (k, k) averages of the samples' relative covariance, times the means; what the scatter
                               // leaves open in a mean, sd^2 / n, is private to its batch
};

/// @param batches, values, covariance as given to compare_batches(); @param comparison what it said; @param wanted
/// which batches, in this order. InputError when a wanted batch is none of the comparison's, or the sizes differ.
BatchMeans means_of_batches(const std::vector<std::string>& batches, const Eigen::VectorXd& values,
                            const Eigen::MatrixXd& covariance, const BatchComparison& comparison,
                            const std::vector<std::string>& wanted);

/// The errors of one pair as size_experiment() takes them, relative: the scatter of the two batches (root mean square)
/// with its degrees of freedom; a sample's own measurement error, the mean variance less the mean covariance of two
/// samples; what more samples do not narrow. alpha is the comparison's over its number of pairs. Nothing where no
/// scatter is known or nothing varies. InputError as above.
std::optional<SizingInput> errors_for_sizing(const std::vector<std::string>& batches, const Eigen::VectorXd& values,
                                             const Eigen::MatrixXd& covariance, const BatchComparison& comparison,
                                             const std::string& batch);

}  // namespace sievelight
