// SPDX-License-Identifier: GPL-3.0-or-later
/// From draws of the density to everything that a SizeDistribution tells.
#pragma once

#include "sievelight/distribution/fit_data.hpp"
#include "sievelight/distribution/invert.hpp"

namespace sievelight {

/// Draws of one prior's posterior: (p, draws) in units of the fit data's reference.
struct DrawSet {
  std::string name;                     // "order_2", "order_3"; "evidence"
  std::vector<Eigen::MatrixXd> chains;  // (p, draws) each
};

/// Fills all fields that follow from draws (not those on convergence, goodness of fit and resolution). Sets are pooled
/// with equal weight per draw.
void describe(const FitData& data, const Kernel& kernel, const std::vector<DrawSet>& sets, const UsablePoints& points,
              Eigen::Index points_given, IntensityUnit unit, const InvertOptions& options, SizeDistribution& out);

}  // namespace sievelight
