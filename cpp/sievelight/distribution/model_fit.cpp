// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/model_fit.hpp"

#include "sievelight/base/parallel.hpp"
#include "sievelight/distribution/smoothness.hpp"

#include <gsl/gsl_cdf.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

constexpr int path_points = 25;  // strengths on the most probable path, three a decade

// The integral over ln(strength) by rectangles; the path ends where nothing is left of it.
double ln_integral(const PriorFit& prior) {
  const double top = prior.best().ln_evidence;
  double sum = 0;
  for (const MostProbable& p : prior.path) sum += std::exp(p.ln_evidence - top);
  return top + std::log(sum * (prior.ln_strength.high - prior.ln_strength.low) / (path_points - 1));
}

}  // namespace

const MostProbable& PriorFit::best() const {
  return *std::max_element(path.begin(), path.end(),
                           [](const auto& a, const auto& b) { return a.ln_evidence < b.ln_evidence; });
}

double Goodness::too_large() const { return gsl_cdf_chisq_Q(chi2, dof); }
double Goodness::too_small() const { return gsl_cdf_chisq_P(chi2, dof); }

Goodness goodness(const FitData& data, double chi2, double effective) {
  return {chi2 + data.compressed.rest, std::max(1.0, static_cast<double>(data.intensity.size()) - effective - 1)};
}

ModelFit fit_model(FitData data, Kernel kernel) {
  ModelFit out;
  out.priors.resize(prior_orders.size());
  const Eigen::VectorXd start = (data.start.x.array() + 1e-3).log().max(-12.0);
  parallel_for(prior_orders.size(), [&](std::size_t k) {
    PriorFit& prior = out.priors[k];
    prior.problem = make_log_density(data, prior_orders[k]);
    prior.ln_strength = ln_strength_range(kernel.grid.step, prior_orders[k]);
    prior.path = most_probable_path(prior.problem, prior.ln_strength, path_points, start);
  });
  const double rest = -0.5 * (data.compressed.rest + data.noise.ln_determinant());
  for (std::size_t k = 0; k < prior_orders.size(); ++k) out.ln_evidence[k] = ln_integral(out.priors[k]) + rest;
  const MostProbable& best =
      std::min_element(out.priors.begin(), out.priors.end(), [](const PriorFit& a, const PriorFit& b) {
        return a.best().chi2 < b.best().chi2;
      })->best();
  const double power_law = data.power_law_integrated ? 1 : 0;
  out.fit = goodness(data, best.chi2, best.effective + power_law);
  out.effective = best.effective + power_law + 1;
  out.data = std::move(data);
  out.kernel = std::move(kernel);
  return out;
}

}  // namespace sievelight
