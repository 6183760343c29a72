// SPDX-License-Identifier: GPL-3.0-or-later
/// Made-up azimuthal profiles.
#pragma once

#include "sievelight/base/units.hpp"
#include "sievelight/reduce/azimuth.hpp"

#include <cmath>
#include <functional>
#include <random>

namespace sievelight::synthetic {

/// A whole circle of `bins` bins that expects `total` counts; intensity is the mean over the bin of pattern(chi in
/// radians), by twenty points a bin.
inline AzimuthalProfile profile(int bins, double total, const std::function<double(double)>& pattern) {
  AzimuthalProfile p;
  p.name = "made up";
  p.q_range_per_nm = {0.5, 1.0};
  const double step = 360.0 / bins;
  p.low_deg = Eigen::VectorXd::LinSpaced(bins, 0.0, 360.0 - step);
  p.high_deg = p.low_deg.array() + step;
  p.azimuth_deg = p.low_deg.array() + 0.5 * step;
  p.intensity = p.dark_counts = Eigen::VectorXd::Zero(bins);
  for (Eigen::Index i = 0; i < bins; ++i)
    for (int k = 0; k < 20; ++k) p.intensity[i] += pattern(radians(p.low_deg[i] + (k + 0.5) * step / 20)) / 20;
  p.normalisation = Eigen::VectorXd::Constant(bins, total / p.intensity.sum());
  p.counts = p.intensity.cwiseProduct(p.normalisation);
  p.u = p.counts.cwiseSqrt().cwiseQuotient(p.normalisation);
  p.pixels = Eigen::VectorXi::Constant(bins, 100);
  return p;
}

inline AzimuthalProfile draw(const AzimuthalProfile& expected, std::mt19937_64& random) {
  AzimuthalProfile p = expected;
  for (Eigen::Index i = 0; i < p.counts.size(); ++i) {
    p.counts[i] = static_cast<double>(std::poisson_distribution<long>(expected.counts[i])(random));
    p.intensity[i] = p.counts[i] / p.normalisation[i];
    p.u[i] = std::sqrt(p.counts[i] + (p.counts[i] < 10 ? 1 : 0)) / p.normalisation[i];
  }
  return p;
}

/// Only the bins with `keep`.
inline AzimuthalProfile part(const AzimuthalProfile& all, const std::function<bool(double deg)>& keep) {
  std::vector<Eigen::Index> used;
  for (Eigen::Index i = 0; i < all.azimuth_deg.size(); ++i)
    if (keep(all.azimuth_deg[i])) used.push_back(i);
  AzimuthalProfile p = all;
  for (auto member : {&AzimuthalProfile::azimuth_deg, &AzimuthalProfile::low_deg, &AzimuthalProfile::high_deg,
                      &AzimuthalProfile::intensity, &AzimuthalProfile::u, &AzimuthalProfile::counts,
                      &AzimuthalProfile::dark_counts, &AzimuthalProfile::normalisation})
    p.*member = Eigen::VectorXd((all.*member)(used));
  p.pixels = Eigen::VectorXi(all.pixels(used));
  return p;
}

}  // namespace sievelight::synthetic
