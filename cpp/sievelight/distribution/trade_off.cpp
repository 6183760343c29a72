// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/trade_off.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/distribution/fit_data.hpp"

#include <algorithm>
#include <cmath>

namespace sievelight {

TradeOff trade_off(const Curve& curve, const InvertOptions& options) {
  const Kernel kernel = make_kernel(curve, options);
  const UsablePoints points = usable_points(curve, options.q_range_per_nm);
  const FitData data = make_fit_data(points.curve, kernel, options.contrast_per_cm2, options.power_law, false);
  Tikhonov problem(data.compressed, data.nodes);
  std::vector<Tikhonov::Fit> path;
  constexpr double step = 0.25;
  for (double log10_strength = weakest; log10_strength <= stiffest + 0.01; log10_strength += step)
    if (auto fit = problem.at(log10_strength)) path.push_back(std::move(*fit));
  if (path.size() < 5)
    throw NumericalError("no scattering above the background was found; every size has zero volume.",
                         "Check the background subtraction and its scale, and the q range.");
  const auto count = static_cast<Eigen::Index>(path.size()), m = kernel.grid.window_size();
  TradeOff out;
  for (Eigen::VectorXd* v :
       {&out.ln_strength, &out.chi2_per_point, &out.roughness, &out.effective, &out.ln_evidence, &out.cross_validation})
    v->resize(count);
  out.diameter_nm = kernel.grid.diameter_nm.segment(kernel.grid.window_low, m);
  out.density.resize(m, count);
  for (Eigen::Index k = 0; k < count; ++k) {
    const Tikhonov::Fit& fit = path[static_cast<std::size_t>(k)];
    out.ln_strength[k] = fit.log10_strength * std::log(10.0);
    out.chi2_per_point[k] = fit.chi2 / static_cast<double>(data.intensity.size());
    out.roughness[k] = fit.rough;
    out.effective[k] = problem.effective(fit);
    out.ln_evidence[k] = problem.ln_evidence(fit);
    out.cross_validation[k] = problem.cross_validation(fit);
    const Eigen::VectorXd inside = fit.x.segment(kernel.grid.window_low, m);
    out.density.col(k) = inside / std::max(inside.maxCoeff(), 1e-300);
  }
  out.ln_evidence.maxCoeff(&out.by_evidence);
  out.cross_validation.minCoeff(&out.by_cross_validation);
  const std::vector<double> bend = corner_curvature(path);
  out.at_corner = std::max_element(bend.begin(), bend.end()) - bend.begin();
  out.ln_evidence.array() -= out.ln_evidence[out.by_evidence];
  out.cross_validation /= out.cross_validation[out.by_cross_validation];
  return out;
}

}  // namespace sievelight
