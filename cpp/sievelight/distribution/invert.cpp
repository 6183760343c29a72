// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/invert.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gsl.hpp"
#include "sievelight/distribution/describe.hpp"
#include "sievelight/distribution/draw_models.hpp"
#include "sievelight/distribution/residual_tests.hpp"
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

std::string spaced(std::string name) {
  std::replace(name.begin(), name.end(), '_', ' ');
  return name;
}

void judge_noise(const Goodness& fit, double widened, const KernelOptions& model, SizeDistribution& out) {
  const std::string number =
      fmt::format("chi^2 per degree of freedom is {:.3g} ({:.0f} degrees)", fit.ratio(), fit.dof);
  if (fit.too_large() < 1e-6 || fit.ratio() > 4)
    out.warnings.push_back(
        fmt::format("{}: the model ({}, flat background) does not describe this curve within its "
                    "uncertainties; look at the residuals before using any number.",
                    number, model_in_words(model)));
  if (fit.too_small() < 1e-6)
    out.warnings.push_back(number +
                           ": the stated uncertainties are larger than the scatter of the points; the bands are "
                           "as wide as the uncertainties claim, probably too wide.");
  if (widened > 1)
    out.warnings.push_back(fmt::format("{}: the pointwise uncertainties were multiplied by {:.3g}.", number, widened));
}

void judge_range(const SizeDistribution& r, std::vector<std::string>& warnings) {
  if (r.outside_share > 0.05)
    warnings.push_back(
        fmt::format("the distribution touches the edge: {:.0f} % of the volume lies outside {:.3g} to {:.3g} "
                    "nm or in the outermost cells; the summaries speak of the window only.",
                    100 * r.outside_share, r.window_nm.low, r.window_nm.high));
  if (r.x50_in_gap)
    warnings.push_back(
        fmt::format("the median ({:.3g} nm) falls into an empty gap between modes at {:.3g} and {:.3g} nm; quote "
                    "the modes, not x50.",
                    r.x50_nm.value, r.modes_nm[0], r.modes_nm[r.modes_nm.size() - 1]));
}

void judge_residuals(SizeDistribution& out) {
  const Runs runs = runs_test(out.residual);
  out.runs_probability = runs.probability;
  if (runs.probability < 1e-3)
    out.warnings.push_back(
        fmt::format("the residuals run in one direction over many points: {} changes of sign where noise makes {:.0f} "
                    "(probability {:.1g}). The model misses something that chi^2 may hide: interference between "
                    "particles, another shape, a background that is not flat.",
                    runs.count, runs.expected, runs.probability));
}

void judge_support(const Range& window, const Range& supported, std::vector<std::string>& warnings) {
  if (window.high > 1.001 * supported.high)
    warnings.push_back(
        fmt::format("the size window reaches to {:.4g} nm but this q range supports sizes up to pi/q_min = "
                    "{:.4g} nm.",
                    window.high, supported.high));
  if (window.low < 0.999 * supported.low)
    warnings.push_back(
        fmt::format("the size window begins at {:.4g} nm but below 3 pi/q_max = {:.4g} nm sizes cannot be "
                    "told from a flat background.",
                    window.low, supported.low));
}

// What was assumed rather than found.
std::vector<std::string> notes(const KernelOptions& o, const InvertOptions& options) {
  std::vector<std::string> out{
      fmt::format("The shape is an assumption: {}; the size is its {}. The curve alone does not prove a shape, and "
                  "another one would move the sizes.",
                  o.shape.name, o.shape.size)};
  if (o.interaction && options.also_fit == AlsoFit::hard_sphere_fraction)
    out.push_back(
        fmt::format("Hard-sphere interference is assumed, its volume fraction fitted with the sizes; radius {:g} "
                    "times the particle's, each size among its own kind.",
                    o.interaction->radius_factor));
  else if (o.interaction)
    out.push_back(
        fmt::format("Hard-sphere interference is assumed: volume fraction {:g}, radius {:g} times the "
                    "particle's, each size among its own kind.",
                    o.interaction->volume_fraction, o.interaction->radius_factor));
  if (o.slit) out.push_back("The curve is smeared by a line-shaped beam; the fit is smeared in the same way.");
  if (options.power_law && options.also_fit == AlsoFit::power_exponent)
    out.push_back("The power law's exponent is fitted with the sizes.");
  else if (options.power_law && o.power_exponent != 4.0)
    out.push_back(fmt::format("The power law's exponent is given as {:g}.", o.power_exponent));
  return out;
}

// Gaussian draws around the non-negative fit, cut at zero.
DrawSet preview_draws(const FitData& data, const InvertOptions& options) {
  std::mt19937_64 random(options.seed);
  std::normal_distribution<double> normal;
  const int count = std::max(100, options.draws / 4);
  DrawSet set{name(options.method), &data, 0.0, {Eigen::MatrixXd(data.start.x.size(), count)}};
  for (int k = 0; k < count; ++k) {
    Eigen::VectorXd z(data.start.root.cols());
    for (double& value : z) value = normal(random);
    set.chains.front().col(k) = (data.start.x + data.start.root * z).cwiseMax(0.0);
  }
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
  Goodness fit;
  const auto refit = [&] {
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
  out.resolution_kernel = resolution_kernel(kernel.grid, data.start.root * data.start.root.transpose(),
                                            data.compressed.m.transpose() * data.compressed.m, out.smoothing_ln_d);
  describe(kernel, {preview_draws(data, options)}, 0.0, points, curve.size(), curve.unit, options, out);
}

// The kernel of a model in which the number that is also fitted has a value.
Kernel kernel_with(const Curve& usable, const Kernel& kernel, AlsoFit what, double value) {
  KernelOptions o = kernel.made_with;
  if (what == AlsoFit::hard_sphere_fraction) o.interaction->volume_fraction = value;
  if (what == AlsoFit::power_exponent) o.power_exponent = value;
  return make_kernel(usable, kernel.grid, o);
}

void judge_also_fitted(AlsoFit what, SizeDistribution& out) {
  const Estimate e = out.also_fitted.at(name(what));
  const Range range = allowed(what);
  if (what == AlsoFit::power_exponent) out.power_exponent = e.value;
  if (e.band95.high - e.band95.low > 0.5 * (range.high - range.low))
    out.warnings.push_back(
        fmt::format("this curve hardly knows the {}: {:.3g} to {:.3g} (95 %); what is allowed is {:g} "
                    "to {:g}.",
                    spaced(name(what)), e.band95.low, e.band95.high, range.low, range.high));
  else if (what == AlsoFit::hard_sphere_fraction && e.band95.high > 0.995 * range.high)
    out.warnings.push_back(
        "the hard spheres' volume fraction ran to its limit of 0.5, where hard spheres freeze: this "
        "interference does not describe the curve.");
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
  out.resolution_kernel = resolution_kernel(kernel.grid, covariance, m.transpose() * m, out.smoothing_ln_d);
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
  out.notes = notes(kernel.made_with, options);
  out.intensity_unit = name(curve.unit);
  out.warnings = points.warnings;
  const Range q = q_span(points.curve);
  judge_support(kernel.grid.window_nm(), supported_diameters_nm(q.low, q.high), out.warnings);
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
