// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/invert.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gsl.hpp"
#include "sievelight/distribution/describe.hpp"
#include "sievelight/distribution/draw_models.hpp"
#include "sievelight/distribution/judge.hpp"
#include "sievelight/distribution/summary.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

namespace sievelight {
namespace {

// From the lowest to the highest angle seen, bins from edge to edge.
Range q_span(const Curve& usable) {
  const Eigen::Index last = usable.size() - 1;
  return usable.q_low_per_nm.size() > 0 ? Range{usable.q_low_per_nm[0], usable.q_high_per_nm[last]}
                                        : Range{usable.q_per_nm[0], usable.q_per_nm[last]};
}

// The points scatter more than stated with a probability below this: they are widened.
bool too_poor(const Goodness& fit) { return fit.too_large() < 1e-3; }

// Gaussian draws around the non-negative fit, cut at zero.
DrawSet preview_draws(const FitData& data, const InvertOptions& options) {
  std::mt19937_64 random(options.seed);
  std::normal_distribution<double> normal;
  const int count = std::max(100, options.draws / 12);
  DrawSet set{name(options.method), &data, 0.0, {}, Eigen::MatrixXd(data.start.x.size(), count)};
  for (int k = 0; k < count; ++k) {
    Eigen::VectorXd z(data.start.root.cols());
    for (double& value : z) value = normal(random);
    set.uncut.col(k) = data.start.x + data.start.root * z;
  }
  set.chains.push_back(set.uncut.cwiseMax(0.0));
  return set;
}

void check_options(const Curve& curve, const Kernel& kernel, const InvertOptions& o) {
  if (curve.has_slit() && !kernel.made_with.slit)
    throw InputError("the curve was measured with a slit but the kernel was made without one.",
                     "Make the kernel with the profile of the slit.");
  if (o.draws < 200)
    throw InputError(fmt::format("{} draws were asked for.", o.draws), "Ask for 200 or more; 2400 is the default.");
  if (!(o.contrast_per_cm2 >= 0) || !std::isfinite(o.contrast_per_cm2))
    throw InputError(fmt::format("the contrast is {} 1/cm^2.", o.contrast_per_cm2),
                     "Give the difference of the scattering-length densities, e.g. 1.864e11 for silica and air.");
  if (o.also_fit != AlsoFit::nothing && o.method != InversionMethod::sampled)
    throw InputError(fmt::format("{} is to be fitted by the quick look '{}'.", name(o.also_fit), name(o.method)),
                     "Use the method \"sampled\", or give the value.");
  if (o.also_fit == AlsoFit::hard_sphere_fraction && !kernel.made_with.interaction)
    throw InputError("the hard spheres' volume fraction is to be fitted but the model has no hard spheres.",
                     "Give an interaction; its volume fraction is not used.");
  if (o.also_fit == AlsoFit::power_exponent && !o.power_law)
    throw InputError("the exponent of the power law is to be fitted but the model has no power law.",
                     "Ask for the power law too.");
}

void invert_quickly(const UsablePoints& points, const Curve& curve, const Kernel& kernel, const InvertOptions& options,
                    SizeDistribution& out) {
  FitData data = make_fit_data(points.curve, kernel, options.contrast_per_cm2, options.power_law, false);
  refuse_flat(data);
  Goodness fit;
  const auto refit = [&] {
    // The start of the data is the fit by evidence already.
    if (options.method != InversionMethod::evidence)
      data.start = quick_fit(options.method, data.compressed, data.nodes);
    fit = goodness(data, data.start.chi2, data.start.effective);
    out.effective_parameters = data.start.effective + 1;
  };
  refit();
  const Goodness as_given = fit;
  if (too_poor(fit)) {
    out.noise_scale = std::sqrt(fit.ratio());
    data = widen(std::move(data), out.noise_scale);
    refit();
  }
  judge_noise(as_given, out.noise_scale, kernel.made_with, out);
  out.chi2_per_point = as_given.chi2 / static_cast<double>(data.intensity.size());
  out.ln_strength[out.method] = Estimate{data.start.ln_strength, std::numeric_limits<double>::quiet_NaN(), {}, {}};
  out.warnings.push_back(caveat(options.method));
  const Eigen::MatrixXd& root = data.start.root;
  const Eigen::MatrixXd root_mt = root.transpose() * data.compressed.m.transpose();
  out.resolution_kernel = resolution_kernel(kernel.grid, root * root_mt, data.compressed.m, out.smoothing_ln_d);
  describe(kernel, {preview_draws(data, options)}, 0.0, points, curve.size(), curve.unit, options, out);
}

// The kernel of a model in which the number that is also fitted has a value.
Kernel kernel_with(const Curve& usable, const Kernel& kernel, AlsoFit what, double value) {
  KernelOptions o = kernel.made_with;
  if (what == AlsoFit::hard_sphere_fraction) o.interaction->volume_fraction = value;
  if (what == AlsoFit::power_exponent) o.power_exponent = value;
  return make_kernel(usable, kernel.grid, o);
}

void invert_by_sampling(const UsablePoints& points, const Curve& curve, const Kernel& kernel,
                        const InvertOptions& options, SizeDistribution& out) {
  double widened = 1;
  const auto fit = [&](Kernel of) {
    FitData data = make_fit_data(points.curve, of, options.contrast_per_cm2, options.power_law, true);
    if (widened > 1) data = widen(std::move(data), widened);
    return fit_model(std::move(data), std::move(of));
  };
  const auto models = [&] {
    if (options.also_fit != AlsoFit::nothing)
      return weigh_models(allowed(options.also_fit), [&](double value) {
        return fit(kernel_with(points.curve, kernel, options.also_fit, value));
      });
    std::vector<WeightedModel> one(1);
    one.front() = {0.0, fit(kernel), {1.0, 1.0}};
    return one;
  };
  const auto heaviest = [](const std::vector<WeightedModel>& all) -> const ModelFit& {
    return std::max_element(
               all.begin(), all.end(),
               [](const auto& a, const auto& b) { return a.weight[0] + a.weight[1] < b.weight[0] + b.weight[1]; })
        ->model;
  };
  std::vector<WeightedModel> all = models();
  refuse_flat(heaviest(all).data);
  const Goodness as_given = heaviest(all).fit;
  if (too_poor(as_given)) {
    widened = out.noise_scale = std::sqrt(as_given.ratio());
    all = models();
  }
  const ModelFit& best = heaviest(all);
  out.effective_parameters = best.effective + (options.also_fit != AlsoFit::nothing ? 1 : 0);
  judge_noise(as_given, out.noise_scale, best.kernel.made_with, out);
  out.chi2_per_point = as_given.chi2 / static_cast<double>(points.curve.size());
  Eigen::MatrixXd covariance = Eigen::MatrixXd::Zero(kernel.grid.size(), kernel.grid.size());
  for (const PriorFit& prior : best.priors)
    covariance += density_covariance(prior.problem, prior.best()) / static_cast<double>(best.priors.size());
  const Eigen::MatrixXd& m = best.data.compressed.m;
  out.resolution_kernel = resolution_kernel(kernel.grid, covariance * m.transpose(), m, out.smoothing_ln_d);
  const std::vector<DrawSet> sets = draw_models(all, options, out);
  const double step = all.size() > 1 ? all[1].value - all[0].value : 0.0;
  describe(kernel, sets, step, points, curve.size(), curve.unit, options, out);
  if (options.also_fit != AlsoFit::nothing) judge_also_fitted(options.also_fit, out);
}

}  // namespace

Kernel make_kernel(const Curve& curve, const InvertOptions& options) {
  const UsablePoints points = usable_points(curve, options.q_range_per_nm);
  const Range q = q_span(points.curve);
  return make_kernel(points.curve, make_grid(q.low, q.high, options.diameter_nm, options.grid), options.kernel);
}

SizeDistribution invert(const Curve& curve, const InvertOptions& options) {
  return invert(curve, make_kernel(curve, options), options);
}

SizeDistribution invert(const Curve& curve, const Kernel& kernel, const InvertOptions& options) {
  check_options(curve, kernel, options);
  quiet_gsl();
  const UsablePoints points = usable_points(curve, options.q_range_per_nm);
  SizeDistribution out;
  out.method = name(options.method);
  out.shape = kernel.shape;
  out.power_exponent = kernel.made_with.power_exponent;
  out.notes = assumptions(kernel.made_with, options);
  out.intensity_unit = name(curve.unit);
  out.warnings = points.warnings;
  const Range q = q_span(points.curve);
  const Range window = kernel.grid.window_nm(), supported = supported_diameters_nm(q.low, q.high);
  refuse_unsupported(window, supported);
  judge_support(window, supported, out.warnings);
  judge_gaps(points.curve, window, out.warnings);
  if (options.look_for_order) refuse_order(points.curve, out.warnings);
  if (options.contrast_per_cm2 > 0 && curve.unit != IntensityUnit::per_cm)
    out.warnings.push_back(
        fmt::format("a contrast was given but the intensity is in {}: no volume fraction or surface "
                    "follows without 1/cm.",
                    name(curve.unit)));
  if (options.method == InversionMethod::sampled)
    invert_by_sampling(points, curve, kernel, options, out);
  else
    invert_quickly(points, curve, kernel, options, out);
  judge_residuals(out);
  judge_range(out, out.warnings);
  return out;
}

}  // namespace sievelight
