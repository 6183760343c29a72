// SPDX-License-Identifier: GPL-3.0-or-later
/// Size distributions in NeXus files (NXentry, NXdata), so that any NeXus viewer opens on the density with its bands.
///   /entry/distribution  NXdata  signal q3_per_nm over diameter_nm; bands as auxiliary signals
///   /entry/cumulative    NXdata  signal cumulative over diameter_nm
///   /entry/fit           NXdata  signal measured over q_per_nm, with fit, its bands and residuals
///   /entry/resolution    NXdata  resolution kernel, size seen against size present
///   /entry/summary       NXcollection  one group an estimate: value, standard_uncertainty, low68 ... high95
///   /entry/process       NXprocess  method, shape, window, smoothing, warnings
#pragma once

#include "sievelight/distribution/size_distribution.hpp"

#include <string>

namespace sievelight {

struct DistributionInfo {
  std::string title;
};

/// Writes one distribution as a file of its own. DataError when the file cannot be written.
void write_distribution(const std::string& path, const SizeDistribution& distribution, const DistributionInfo& info);

}  // namespace sievelight
