// SPDX-License-Identifier: GPL-3.0-or-later
/// From draws of the density to everything that a SizeDistribution tells.
#pragma once

#include "sievelight/distribution/fit_data.hpp"
#include "sievelight/distribution/invert.hpp"

namespace sievelight {

/// Draws of one model's posterior under one prior: (p, draws) in units of the fit data's reference.
struct DrawSet {
  std::string prior;                    // "order_2", "order_3"; "evidence"
  const FitData* data = nullptr;        // of the model
  double also_fitted = 0.0;             // the model's value of InvertOptions::also_fit
  std::vector<Eigen::MatrixXd> chains;  // (p, draws) each
  Eigen::MatrixXd uncut = {};           // (p, draws) of a quick method before they were cut at zero; else empty
};

/// Fills all fields that follow from draws (not those on convergence, goodness of fit and resolution). Sets are pooled
/// with equal weight per draw. @param kernel of one of the models: they share its grid, shape and kind of interaction.
/// @param value_step spacing of the values of what is also fitted.
void describe(const Kernel& kernel, const std::vector<DrawSet>& sets, double value_step, const UsablePoints& points,
              Eigen::Index points_given, IntensityUnit unit, const InvertOptions& options, SizeDistribution& out);

}  // namespace sievelight
