// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/invert.hpp"

#include "sievelight/analysis/residual_tests.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/gsl.hpp"
#include "sievelight/base/parallel.hpp"
#include "sievelight/distribution/describe.hpp"
#include "sievelight/distribution/diagnose.hpp"
#include "sievelight/distribution/sample.hpp"
#include "sievelight/distribution/smoothness.hpp"
#include "sievelight/distribution/summary.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <random>

namespace sievelight {
namespace {

constexpr int orders[] = {2, 3};
constexpr int path_points = 25;      // strengths on the most probable path, three a decade
constexpr int chains_per_order = 4;  //
constexpr double enough_draws = 400, close_enough = 1.02;
constexpr int most_rounds = 8;

// From the lowest to the highest angle seen, bins from edge to edge.
Range q_span(const Curve& usable) {
  const Eigen::Index last = usable.size() - 1;
  return usable.q_low_per_nm.size() > 0 ? Range{usable.q_low_per_nm[0], usable.q_high_per_nm[last]}
                                        : Range{usable.q_per_nm[0], usable.q_per_nm[last]};
}

// chi^2 of a fit, its degrees of freedom, and how likely a larger or smaller one is.
struct Goodness {
  double chi2 = 0, dof = 0;
  double ratio() const { return chi2 / dof; }
  double too_large() const { return gsl_cdf_chisq_Q(chi2, dof); }
  double too_small() const { return gsl_cdf_chisq_P(chi2, dof); }
};

Goodness goodness(const FitData& data, double chi2, double effective) {
  // One more parameter: the flat level, which the covariance has absorbed.
  return {chi2 + data.compressed.rest, std::max(1.0, static_cast<double>(data.intensity.size()) - effective - 1)};
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
std::vector<std::string> notes(const KernelOptions& o, bool power_law) {
  std::vector<std::string> out{
      fmt::format("The shape is an assumption: {}; the size is its {}. The curve alone does not prove a shape, and "
                  "another one would move the sizes.",
                  o.shape.name, o.shape.size)};
  if (o.interaction)
    out.push_back(
        fmt::format("Hard-sphere interference is assumed: volume fraction {:g}, radius {:g} times the "
                    "particle's, each size among its own kind.",
                    o.interaction->volume_fraction, o.interaction->radius_factor));
  if (o.slit) out.push_back("The curve is smeared by a line-shaped beam; the fit is smeared in the same way.");
  if (power_law && o.power_exponent != 4.0)
    out.push_back(fmt::format("The power law's exponent is given as {:g}.", o.power_exponent));
  return out;
}

struct Fitted {
  LogDensity problem;
  Range range;
  std::vector<MostProbable> path;
  const MostProbable& best() const {
    return *std::max_element(path.begin(), path.end(),
                             [](const auto& a, const auto& b) { return a.ln_evidence < b.ln_evidence; });
  }
};

std::vector<Fitted> fit_paths(const FitData& data, double step) {
  std::vector<Fitted> out(std::size(orders));
  const Eigen::VectorXd start = (data.start.x.array() + 1e-3).log().max(-12.0);
  parallel_for(out.size(), [&](std::size_t k) {
    Fitted& f = out[k];
    f.problem = make_log_density(data, orders[k]);
    f.range = ln_strength_range(step, orders[k]);
    f.path = most_probable_path(f.problem, f.range, path_points, start);
  });
  return out;
}

// Draws of one scalar, chain by chain.
template <typename Value>
std::vector<Eigen::VectorXd> trace(const Sampler& sampler, const Value& value) {
  std::vector<Eigen::VectorXd> out;
  for (const Chain& chain : sampler.chains()) {
    Eigen::VectorXd v(chain.x.cols());
    for (Eigen::Index k = 0; k < v.size(); ++k) v[k] = value(chain.x.col(k));
    out.push_back(std::move(v));
  }
  return out;
}

void diagnose(const std::vector<Sampler>& samplers, const FitData& data, const SizeGrid& grid, SizeDistribution& out) {
  const Summariser summarise_one(grid);
  const Noise& noise = data.noise;
  const Eigen::Index level = noise.shared().cols() - 1;
  const std::map<std::string, std::function<double(const Eigen::VectorXd&)>> watched{
      {"x50_nm", [&](const Eigen::VectorXd& x) { return summarise_one(x).x50_nm; }},
      {"mean_nm", [&](const Eigen::VectorXd& x) { return summarise_one(x).mean_nm; }},
      {"relative_width", [&](const Eigen::VectorXd& x) { return summarise_one(x).relative_width; }},
      {"background",
       [&](const Eigen::VectorXd& x) { return noise.amplitudes(data.intensity - data.columns * x)[level]; }}};
  out.r_hat.clear();
  out.effective_draws.clear();
  for (const auto& [name, value] : watched) {
    double worst = 1, total = 0;
    for (const Sampler& sampler : samplers) {
      const auto chains = trace(sampler, value);
      worst = std::max(worst, split_r_hat(chains));
      total += effective_draws(chains);
    }
    out.r_hat[name] = worst;
    out.effective_draws[name] = total;
  }
  out.converged = true;
  for (const auto& [name, value] : out.r_hat)
    if (!(value < close_enough) || !(out.effective_draws.at(name) >= enough_draws)) out.converged = false;
}

void sample(const FitData& data, const std::vector<Fitted>& fits, const Kernel& kernel, const InvertOptions& options,
            std::vector<DrawSet>& sets, SizeDistribution& out) {
  SampleOptions each;
  each.chains = chains_per_order;
  each.seed = options.seed;
  std::vector<Sampler> samplers;
  for (const Fitted& f : fits) samplers.emplace_back(f.problem, f.range, f.path, each);
  const int draws = std::max(25, options.draws / static_cast<int>(std::size(orders) * chains_per_order));
  // All chains of both priors share the threads.
  const std::size_t count = samplers.size() * chains_per_order;
  const auto of = [&](std::size_t k) -> Sampler& { return samplers[k / chains_per_order]; };
  parallel_for(count, [&](std::size_t k) { of(k).warm_up(k % chains_per_order); });
  for (Sampler& sampler : samplers) sampler.adapt();
  for (int round = 0; round < most_rounds; ++round) {
    parallel_for(count, [&](std::size_t k) { of(k).advance(k % chains_per_order, draws); });
    diagnose(samplers, data, kernel.grid, out);
    if (out.converged) break;
  }
  if (!out.converged) {
    std::string seen;
    for (const auto& [name, value] : out.r_hat)
      seen += fmt::format("{}{} R-hat {:.3f}, {:.0f} draws", seen.empty() ? "" : "; ", name, value,
                          out.effective_draws[name]);
    out.warnings.push_back(
        fmt::format("the chains have not converged ({}); R-hat below {} and {} independent draws are "
                    "wanted. Raise `draws`, or narrow the size window.",
                    seen, close_enough, enough_draws));
  }
  for (std::size_t k = 0; k < samplers.size(); ++k) {
    DrawSet set{fmt::format("order_{}", orders[k]), {}};
    Eigen::VectorXd strength;
    for (const Chain& chain : samplers[k].chains()) {
      set.chains.push_back(chain.x);
      const Eigen::Index had = strength.size();
      strength.conservativeResize(had + chain.ln_strength.size());
      strength.tail(chain.ln_strength.size()) = chain.ln_strength;
    }
    out.ln_strength[set.name] = summarise(strength);
    sets.push_back(std::move(set));
  }
  // The two priors see the same data; where they disagree, the prior speaks.
  const Summariser summarise_one(kernel.grid);
  std::vector<Estimate> x50;
  for (const DrawSet& set : sets) {
    std::vector<double> values;
    for (const auto& chain : set.chains)
      for (Eigen::Index k = 0; k < chain.cols(); ++k) values.push_back(summarise_one(chain.col(k)).x50_nm);
    x50.push_back(summarise(Eigen::Map<Eigen::VectorXd>(values.data(), static_cast<Eigen::Index>(values.size()))));
  }
  if (std::abs(x50[0].value - x50[1].value) > std::hypot(x50[0].u, x50[1].u))
    out.warnings.push_back(
        fmt::format("the result is sensitive to the prior: x50 is {:.4g} +- {:.2g} nm under one smoothness "
                    "prior and {:.4g} +- {:.2g} nm under the other.",
                    x50[0].value, x50[0].u, x50[1].value, x50[1].u));
}

// Gaussian draws around the non-negative fit, cut at zero.
DrawSet preview_draws(const FitData& data, const InvertOptions& options) {
  std::mt19937_64 random(options.seed);
  std::normal_distribution<double> normal;
  const int count = std::max(100, options.draws / 4);
  DrawSet set{name(options.method), {Eigen::MatrixXd(data.start.x.size(), count)}};
  for (int k = 0; k < count; ++k) {
    Eigen::VectorXd z(data.start.root.cols());
    for (double& value : z) value = normal(random);
    set.chains.front().col(k) = (data.start.x + data.start.root * z).cwiseMax(0.0);
  }
  return set;
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
  if (curve.has_slit() && !kernel.made_with.slit)
    throw InputError("the curve was measured with a slit but the kernel was made without one.",
                     "Make the kernel with the profile of the slit.");
  if (options.draws < 200)
    throw InputError(fmt::format("{} draws were asked for.", options.draws),
                     "Ask for 200 or more; 2400 is the default.");
  if (!(options.contrast_per_cm2 >= 0) || !std::isfinite(options.contrast_per_cm2))
    throw InputError(fmt::format("the contrast is {} 1/cm^2.", options.contrast_per_cm2),
                     "Give the difference of the scattering-length densities, e.g. 1.864e11 for silica and air.");
  quiet_gsl();
  UsablePoints points = usable_points(curve, options.q_range_per_nm);
  SizeDistribution out;
  out.method = name(options.method);
  out.shape = kernel.shape;
  out.power_exponent = kernel.made_with.power_exponent;
  out.notes = notes(kernel.made_with, options.power_law);
  out.intensity_unit = name(curve.unit);
  out.warnings = points.warnings;
  const Range q = q_span(points.curve);
  judge_support(kernel.grid.window_nm(), supported_diameters_nm(q.low, q.high), out.warnings);
  if (options.contrast_per_cm2 > 0 && curve.unit != IntensityUnit::per_cm)
    out.warnings.push_back(
        fmt::format("a contrast was given but the intensity is in {}: no volume fraction or surface "
                    "follows without 1/cm.",
                    name(curve.unit)));
  FitData data = make_fit_data(points.curve, kernel, options.contrast_per_cm2, options.power_law,
                               options.method == InversionMethod::sampled);
  std::vector<Fitted> fits;
  Goodness fit;
  const auto refit = [&] {
    if (options.method != InversionMethod::sampled) {
      data.start = quick_fit(options.method, data.compressed, data.nodes);
      fit = goodness(data, data.start.chi2, data.start.effective);
      out.effective_parameters = data.start.effective + 1;
      return;
    }
    fits = fit_paths(data, kernel.grid.step);
    const MostProbable& best = std::min_element(fits.begin(), fits.end(), [](const Fitted& a, const Fitted& b) {
                                 return a.best().chi2 < b.best().chi2;
                               })->best();
    fit = goodness(data, best.chi2, best.effective + (options.power_law ? 1 : 0));
    out.effective_parameters = best.effective + (options.power_law ? 2 : 1);
  };
  refit();
  const Goodness as_given = fit;
  if (fit.too_large() < 1e-3) {
    out.noise_scale = std::sqrt(fit.ratio());
    data = widen(std::move(data), out.noise_scale);
    refit();
  }
  judge_noise(as_given, out.noise_scale, kernel.made_with, out);
  out.chi2_per_point = as_given.chi2 / static_cast<double>(data.intensity.size());
  std::vector<DrawSet> sets;
  if (options.method == InversionMethod::sampled) {
    sample(data, fits, kernel, options, sets, out);
  } else {
    sets.push_back(preview_draws(data, options));
    out.ln_strength[out.method] = Estimate{data.start.ln_strength, std::numeric_limits<double>::quiet_NaN(), {}, {}};
    out.warnings.push_back(caveat(options.method));
  }
  const Eigen::MatrixXd information = data.compressed.m.transpose() * data.compressed.m;
  Eigen::MatrixXd covariance = data.start.root * data.start.root.transpose();
  if (!fits.empty()) covariance.setZero();
  for (const Fitted& f : fits) covariance += density_covariance(f.problem, f.best()) / static_cast<double>(fits.size());
  out.resolution_kernel = resolution_kernel(kernel.grid, covariance, information, out.smoothing_ln_d);
  describe(data, kernel, sets, points, curve.size(), curve.unit, options, out);
  judge_residuals(out);
  judge_range(out, out.warnings);
  return out;
}

}  // namespace sievelight
