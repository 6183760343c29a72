// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/describe.hpp"

#include "sievelight/base/matrix_vector.hpp"
#include "sievelight/distribution/bands.hpp"
#include "sievelight/distribution/diagnose.hpp"
#include "sievelight/distribution/summary.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

namespace sievelight {
namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
// A peak stands out by a twentieth of the highest one and by three tenths of its own height: a smooth prior fits a
// plateau with sharp edges by ripples of some 10 to 20 % of it, which are no peaks (measured on a box at 1 and 3 %
// noise).
constexpr double prominence = 0.05, own_prominence = 0.3;
constexpr double sure_of_two_modes = 0.95;
// Surface per volume: 1/nm = 1000 m^2/cm^3.
constexpr double m2_per_cm3 = 1000.0;
constexpr double nm3_per_cm3 = 1e21;

Eigen::MatrixXd pool(const std::vector<DrawSet>& sets) {
  Eigen::Index count = 0;
  for (const auto& set : sets)
    for (const auto& chain : set.chains) count += chain.cols();
  Eigen::MatrixXd all(sets.front().chains.front().rows(), count);
  Eigen::Index at = 0;
  for (const auto& set : sets)
    for (const auto& chain : set.chains) {
      all.middleCols(at, chain.cols()) = chain;
      at += chain.cols();
    }
  return all;
}

void describe_density(const SizeGrid& grid, const Eigen::MatrixXd& x, const Summariser& summarise_one,
                      SizeDistribution& out) {
  const Eigen::Index m = grid.window_size(), count = x.cols();
  out.window_nm = grid.window_nm();
  out.diameter_nm = grid.diameter_nm.segment(grid.window_low, m);
  // Per ln D and smoothed; then per nm. The trapezoid rule in D makes the integral over the window exactly 1 on the
  // nodes that the file carries.
  Eigen::MatrixXd density(m, count);
  multiply(smoothing_matrix(grid, out.smoothing_ln_d), x, density);
  Eigen::MatrixXd cumulative(m, count);
  Eigen::VectorXd trapezoid = Eigen::VectorXd::Zero(m);
  for (Eigen::Index j = 0; j + 1 < m; ++j) {
    const double half = 0.5 * (out.diameter_nm[j + 1] - out.diameter_nm[j]);
    trapezoid[j] += half;
    trapezoid[j + 1] += half;
  }
  int two_modes = 0;
  for (Eigen::Index k = 0; k < count; ++k) {
    const Eigen::VectorXd inside = x.col(k).segment(grid.window_low, m);
    if (modes(inside, prominence, own_prominence).size() > 1) ++two_modes;
    cumulative.col(k) = summarise_one.cumulative(x.col(k));
    cumulative.col(k) /= cumulative(m - 1, k);
    density.col(k).array() /= out.diameter_nm.array();
    density.col(k) /= trapezoid.dot(density.col(k));
  }
  for (const auto& [weight, power] : {std::pair{"number", -3.0}, {"surface", -1.0}, {"intensity", 3.0}}) {
    const Eigen::VectorXd factor = out.diameter_nm.array().pow(power);
    Eigen::MatrixXd other = factor.asDiagonal() * density;
    for (Eigen::Index k = 0; k < count; ++k) other.col(k) /= trapezoid.dot(other.col(k));
    out.weighted[weight] = bands(other);
  }
  out.probability_two_modes = static_cast<double>(two_modes) / static_cast<double>(count);
  const Band q3 = bands(density), sum = bands(cumulative);
  out.q3_per_nm = q3.median;
  out.q3_low68 = q3.low68;
  out.q3_high68 = q3.high68;
  out.q3_low95 = q3.low95;
  out.q3_high95 = q3.high95;
  constexpr Eigen::Index most_draws = 100;
  const Eigen::Index kept = std::min(count, most_draws);
  out.cumulative_draws.resize(m, kept);
  for (Eigen::Index k = 0; k < kept; ++k) out.cumulative_draws.col(k) = cumulative.col(k * count / kept);
  out.cumulative = sum.median;
  out.cumulative_low68 = sum.low68;
  out.cumulative_high68 = sum.high68;
  out.cumulative_low95 = sum.low95;
  out.cumulative_high95 = sum.high95;
}

// Modes of the median density; a second one is named only when the draws are sure of it.
void describe_modes(const SizeGrid& grid, const Eigen::MatrixXd& x, SizeDistribution& out) {
  const Eigen::VectorXd middle = bands(x.middleRows(grid.window_low, grid.window_size())).median;
  auto found = modes(middle, prominence, own_prominence);
  if (out.probability_two_modes <= sure_of_two_modes && found.size() > 1)
    found = {*std::max_element(found.begin(), found.end(),
                               [](const auto& a, const auto& b) { return a.second < b.second; })};
  // Positions on the density per nm, which is what is shown: uphill from the mode per ln D, by the vertex of the
  // parabola through the highest three nodes. A mode that is only a shoulder there keeps its place per ln D.
  const Eigen::VectorXd per_nm = middle.array() / out.diameter_nm.array();
  const auto vertex = [&](const Eigen::VectorXd& v, Eigen::Index j) {
    const double bend = v[j - 1] - 2 * v[j] + v[j + 1];
    const double shift = bend < 0 ? 0.5 * (v[j - 1] - v[j + 1]) / bend : 0.0;
    return out.diameter_nm[j] * std::exp(std::clamp(shift, -0.5, 0.5) * grid.step);
  };
  out.modes_nm.resize(static_cast<Eigen::Index>(found.size()));
  for (std::size_t k = 0; k < found.size(); ++k) {
    const Eigen::Index from = found[k].first, least = k > 0 ? found[k - 1].first : 0;
    Eigen::Index j = from;
    while (j > least && per_nm[j - 1] > per_nm[j]) --j;
    out.modes_nm[static_cast<Eigen::Index>(k)] = j > least ? vertex(per_nm, j) : vertex(middle, from);
  }
  // The median falls into a gap where hardly any volume lies between two modes and the volume below that gap may be
  // half, give or take the 2 % that a slightly wrong shape moves from one mode to the other.
  constexpr double doubt = 0.02;
  for (std::size_t k = 1; k < found.size(); ++k) {
    Eigen::Index floor = 0;
    const Eigen::Index from = found[k - 1].first;
    const double least = middle.segment(from, found[k].first - from).minCoeff(&floor);
    floor += from;
    if (least < 0.1 * middle.maxCoeff() && out.cumulative_low95[floor] <= 0.5 + doubt &&
        out.cumulative_high95[floor] >= 0.5 - doubt)
      out.x50_in_gap = true;
  }
}

// A standard normal number cut to lie above a bound, made from one that is not cut (the same quantile of what remains).
double normal_above(double bound, double z) {
  return gsl_cdf_ugaussian_Qinv(gsl_cdf_ugaussian_Q(bound) * gsl_cdf_ugaussian_Q(z));
}

struct Named {
  const char* name;
  double (*value)(const Summary&);
  bool scales = false;  // proportional to the intensity
};
constexpr Named measures[] = {
    {"x10_nm", [](const Summary& s) { return s.x10_nm; }},
    {"x50_nm", [](const Summary& s) { return s.x50_nm; }},
    {"x90_nm", [](const Summary& s) { return s.x90_nm; }},
    {"mean_nm", [](const Summary& s) { return s.mean_nm; }},
    {"relative_width", [](const Summary& s) { return s.relative_width; }},
    {"phi_one_minus_phi", [](const Summary& s) { return s.volume; }, true},
    {"specific_surface_m2_per_cm3", [](const Summary& s) { return m2_per_cm3 * s.surface_per_nm; }, true},
    {"surface_mean_nm", [](const Summary& s) { return s.surface_mean_nm; }},
    {"number_mean_nm", [](const Summary& s) { return s.number_mean_nm; }},
    {"pore_chord_nm", [](const Summary& s) { return 4 * s.volume / s.surface_per_nm; }},
    {"rg_nm", [](const Summary& s) { return s.rg_nm; }},
    {"number_per_cm3", [](const Summary& s) { return nm3_per_cm3 * s.number_per_nm3; }, true},
    {"micropore_share", [](const Summary& s) { return s.below_2_nm; }},
    {"mesopore_share", [](const Summary& s) { return s.below_50_nm - s.below_2_nm; }},
    {"macropore_share", [](const Summary& s) { return 1 - s.below_50_nm; }},
    {"outside_share", [](const Summary& s) { return s.edge_share; }},
};

// Columns of the pool that belong to one set.
struct Part {
  const DrawSet* set;
  Eigen::Index first, count;
};

std::vector<Part> parts_of(const std::vector<DrawSet>& sets) {
  std::vector<Part> out;
  Eigen::Index at = 0;
  for (const DrawSet& set : sets) {
    Eigen::Index count = 0;
    for (const auto& chain : set.chains) count += chain.cols();
    out.push_back({&set, at, count});
    at += count;
  }
  return out;
}

// d (posterior mean) / d data = Cov(summary, Sigma^-1 (model - data)), exact for a Gaussian likelihood, over all models
// of a prior; then averaged over the priors, because they keep equal weight whatever the data.
// @param model (n, draws) curves of the sizes.
Eigen::VectorXd influence(const std::vector<Part>& parts, const Eigen::VectorXd& values, const Eigen::MatrixXd& model) {
  std::map<std::string, std::pair<double, double>> sums;  // prior: draws, sum of values
  for (const Part& p : parts) {
    sums[p.set->prior].first += static_cast<double>(p.count);
    sums[p.set->prior].second += values.segment(p.first, p.count).sum();
  }
  Eigen::VectorXd out = Eigen::VectorXd::Zero(model.rows());
  for (const Part& p : parts) {
    const auto [draws, sum] = sums.at(p.set->prior);
    const Eigen::VectorXd off = values.segment(p.first, p.count).array() - sum / draws;
    const Noise& noise = p.set->data->noise;
    const Eigen::VectorXd covariance =
        (model.middleCols(p.first, p.count) * off - off.sum() * p.set->data->intensity) / draws;
    out += noise.whiten_back(noise.whiten(covariance)) / static_cast<double>(sums.size());
  }
  return out;
}

// A common factor on the curve and on its errors changes a volume in proportion and a size not at all. Draws know that
// to their noise only, and a scale error of a percent, many times the error of a curve's level, would bring the noise
// forward as if it were an effect. So the influence is moved, along the direction of a change of level, to what is
// known of it: `expected` is what a factor of e would add.
class KnownLevel {
 public:
  explicit KnownLevel(const FitData& data)
      : intensity_(data.intensity), level_(data.noise.whiten_back(data.noise.whiten(data.intensity))) {}
  Eigen::VectorXd operator()(const Eigen::VectorXd& influence, double expected) const {
    return influence + (expected - influence.dot(intensity_)) / level_.dot(intensity_) * level_;
  }

 private:
  const Eigen::VectorXd& intensity_;
  Eigen::VectorXd level_;
};

// What is fitted beside the sizes: each model stands for the values around its own.
void describe_also_fitted(const std::vector<Part>& parts, double step, const Eigen::MatrixXd& model,
                          const UsablePoints& points, Eigen::Index points_given, const InvertOptions& options,
                          SizeDistribution& out) {
  const Range range = allowed(options.also_fit);
  std::mt19937_64 random(options.seed ^ 0x27d4eb2fu);
  std::uniform_real_distribution<double> within(-0.5, 0.5);
  Eigen::VectorXd values(model.cols()), exact(model.cols());
  for (const Part& p : parts)
    for (Eigen::Index k = p.first; k < p.first + p.count; ++k) {
      exact[k] = p.set->also_fitted;
      values[k] = std::clamp(exact[k] + step * within(random), range.low, range.high);
    }
  const std::string what = name(options.also_fit);
  out.also_fitted[what] = summarise(values);
  Eigen::VectorXd on_curve = Eigen::VectorXd::Zero(points_given);
  on_curve(points.index) = KnownLevel(*parts.front().set->data)(influence(parts, exact, model), 0.0);
  out.influence[what] = on_curve;
  out.draws[what] = std::move(values);
}

void describe_volume(const Eigen::VectorXd& volume, const InvertOptions& options, SizeDistribution& out) {
  const Estimate v = out.phi_one_minus_phi;
  out.root = options.root == FractionRoot::smaller ? "smaller" : "larger";
  if (v.value - 2 * v.u > 0.25) {
    out.warnings.push_back(
        fmt::format("phi(1 - phi) = {:.3g} +- {:.2g} exceeds 0.25, which no volume fraction can give: the contrast, "
                    "the thickness or "
                    "the absolute scale is wrong, or sizes beyond the window scatter; no volume fraction is given.",
                    v.value, v.u));
    return;
  }
  // The smaller root as 2 v / (1 + s) and not (1 - s) / 2, which is zero for v below 1e-16 and rough above.
  const Eigen::ArrayXd s = (1 - 4 * volume.array()).max(0.0).sqrt();
  Eigen::VectorXd fraction = 0.5 * (1 + s);
  if (options.root == FractionRoot::smaller) fraction = (2 * volume.array() / (1 + s)).min(0.5);
  out.draws["volume_fraction"] = fraction;
  out.volume_fraction = summarise(fraction);
  // d phi = d v / (1 - 2 phi), at the median; without a derivative where the roots meet.
  const double slope = 1 / (1 - 2 * out.volume_fraction.value);
  if (std::abs(slope) < 1e3) out.influence["volume_fraction"] = slope * out.influence.at("phi_one_minus_phi");
  if (v.value + 2 * v.u > 0.25)
    out.warnings.push_back(
        "phi(1 - phi) reaches 0.25 within its uncertainty: the volume fraction is close to one half and "
        "the two roots cannot be told apart.");
}

// Where the interference is in the model, the sum of the sizes is phi and not phi (1 - phi).
void describe_crowded_volume(SizeDistribution& out) {
  const Eigen::VectorXd fraction = out.draws.at("phi_one_minus_phi");
  out.volume_fraction = summarise(fraction);
  if (out.volume_fraction.value - 2 * out.volume_fraction.u > 1) {
    out.warnings.push_back(fmt::format(
        "the volume fraction would be {:.3g} +- {:.2g}: the contrast, the thickness or the absolute scale is "
        "wrong; no volume fraction is given.",
        out.volume_fraction.value, out.volume_fraction.u));
    out.volume_fraction = Estimate{};
    return;
  }
  out.draws["volume_fraction"] = fraction;
  out.influence["volume_fraction"] = out.influence.at("phi_one_minus_phi");
  out.influence["phi_one_minus_phi"] *= 1 - 2 * out.volume_fraction.value;
  out.draws["phi_one_minus_phi"] = fraction.array() * (1 - fraction.array());
  out.phi_one_minus_phi = summarise(out.draws["phi_one_minus_phi"]);
}

}  // namespace

void describe(const Kernel& kernel, const std::vector<DrawSet>& sets, double value_step, const UsablePoints& points,
              Eigen::Index points_given, IntensityUnit unit, const InvertOptions& options, SizeDistribution& out) {
  const SizeGrid& grid = kernel.grid;
  const Eigen::MatrixXd all = pool(sets);
  const std::vector<Part> parts = parts_of(sets);
  const FitData& first = *sets.front().data;
  const Eigen::Index count = all.cols(), nodes = first.nodes;
  Eigen::MatrixXd x(nodes, count);
  for (const Part& p : parts)
    x.middleCols(p.first, p.count) = p.set->data->reference * all.block(0, p.first, nodes, p.count);
  const Shape& shape = kernel.made_with.shape;
  const Summariser summarise_one(grid, shape.surface_per_size, shape.surface_per_nm);
  std::vector<Summary> summaries(static_cast<std::size_t>(count));
  for (Eigen::Index k = 0; k < count; ++k) summaries[static_cast<std::size_t>(k)] = summarise_one(x.col(k));
  describe_density(grid, x, summarise_one, out);

  // The curve as the instrument would show it, with a draw of the coherent shifts and of the flat level to each draw.
  // Common scale errors multiply whatever has the intensity's dimension; the fit itself does not see them.
  std::mt19937_64 random(options.seed ^ 0x5bd1e995u);
  std::normal_distribution<double> normal;
  Eigen::MatrixXd model(first.intensity.size(), count), shown(first.intensity.size(), count);
  Eigen::VectorXd level(count), power_law(count), scale(count);
  for (const Part& p : parts) {
    const FitData& data = *p.set->data;
    const Eigen::Index shared = data.noise.shared().cols();
    const auto draws = all.middleCols(p.first, p.count);
    multiply(data.columns, draws, model.middleCols(p.first, p.count));
    Eigen::MatrixXd amplitudes(shared, p.count);
    for (Eigen::Index k = 0; k < p.count; ++k) {
      const Eigen::VectorXd mean = data.noise.amplitudes(data.intensity - model.col(p.first + k));
      Eigen::VectorXd z(shared);
      for (double& value : z) value = normal(random);
      if (data.power_law_integrated) z[0] = normal_above(-mean[0] / data.noise.amplitude_root()(0, 0), z[0]);
      amplitudes.col(k) = mean + data.noise.amplitude_root() * z;
    }
    shown.middleCols(p.first, p.count) = model.middleCols(p.first, p.count);
    shown.middleCols(p.first, p.count).noalias() += data.noise.shared() * amplitudes;
    level.segment(p.first, p.count) = data.background_scale * amplitudes.row(shared - 1);
    if (options.power_law)
      power_law.segment(p.first, p.count) =
          data.power_law_scale *
          (data.power_law_integrated ? Eigen::VectorXd(amplitudes.row(0)) : Eigen::VectorXd(draws.row(nodes)));
    for (Eigen::Index k = 0; k < p.count; ++k)
      scale[p.first + k] = std::exp(data.coherent.relative_scale * normal(random));
  }
  const Band curve = bands(shown);
  out.q_per_nm = points.curve.q_per_nm;
  out.measured = first.intensity;
  out.fit = curve.median;
  out.fit_low68 = curve.low68;
  out.fit_high68 = curve.high68;
  out.fit_low95 = curve.low95;
  out.fit_high95 = curve.high95;
  out.residual = (first.intensity - curve.median).array() / first.given_u.array();

  const bool absolute = options.contrast_per_cm2 > 0 && unit == IntensityUnit::per_cm;
  std::map<std::string, Estimate*> estimates{{"x10_nm", &out.x10_nm},
                                             {"x50_nm", &out.x50_nm},
                                             {"x90_nm", &out.x90_nm},
                                             {"mean_nm", &out.mean_nm},
                                             {"relative_width", &out.relative_width},
                                             {"phi_one_minus_phi", &out.phi_one_minus_phi},
                                             {"specific_surface_m2_per_cm3", &out.specific_surface_m2_per_cm3},
                                             {"surface_mean_nm", &out.surface_mean_nm},
                                             {"number_mean_nm", &out.number_mean_nm},
                                             {"pore_chord_nm", &out.pore_chord_nm},
                                             {"number_per_cm3", &out.number_per_cm3},
                                             {"rg_nm", &out.rg_nm},
                                             {"micropore_share", &out.micropore_share},
                                             {"mesopore_share", &out.mesopore_share},
                                             {"macropore_share", &out.macropore_share}};
  // The covariance that is the influence is that of a Gaussian, before a quick method cuts its draws at zero.
  Eigen::MatrixXd uncut;
  if (const Eigen::MatrixXd& draws = sets.front().uncut; draws.size() != 0) {
    uncut.resize(model.rows(), draws.cols());
    multiply(first.columns, draws, uncut);
  }
  const KnownLevel with_known_level(first);
  const Range window = out.window_nm;
  const std::map<std::string, bool> reached{{"micropore_share", window.low < 2.0},
                                            {"mesopore_share", window.low < 50.0 && window.high > 2.0},
                                            {"macropore_share", window.high > 50.0}};
  for (const Named& measure : measures) {
    const std::string name = measure.name;
    if (!absolute && measure.scales) continue;
    // Numbers need the volume of a sphere of the size, Rg a sphere that sees no other.
    if ((name == "number_per_cm3" || name == "number_mean_nm") && !shape.packs_as_spheres) continue;
    if (name == "rg_nm" && (shape.name != "sphere" || kernel.made_with.interaction)) continue;
    if (const auto class_of = reached.find(name); class_of != reached.end() && !class_of->second) continue;
    Eigen::VectorXd values(count);
    for (Eigen::Index k = 0; k < count; ++k) values[k] = measure.value(summaries[static_cast<std::size_t>(k)]);
    if (name == "outside_share") {
      out.outside_share = quantile(values, 0.5);
      continue;
    }
    const Eigen::VectorXd used = with_known_level(influence(parts, values, uncut.size() != 0 ? uncut : model),
                                                  measure.scales ? values.mean() : 0.0);
    if (measure.scales) values.array() *= scale.array();
    *estimates.at(name) = summarise(values);
    Eigen::VectorXd on_curve = Eigen::VectorXd::Zero(points_given);
    on_curve(points.index) = used;
    out.influence[name] = on_curve;
    out.draws[name] = std::move(values);
  }
  if (absolute && kernel.made_with.interaction)
    describe_crowded_volume(out);
  else if (absolute)
    describe_volume(out.draws.at("phi_one_minus_phi"), options, out);
  out.draws["background"] = level.cwiseProduct(scale);
  out.background = summarise(out.draws["background"]);
  if (options.power_law) {
    out.draws["power_law_k"] = power_law.cwiseProduct(scale);
    out.power_law_k = summarise(out.draws["power_law_k"]);
  }
  if (options.also_fit != AlsoFit::nothing)
    describe_also_fitted(parts, value_step, model, points, points_given, options, out);
  describe_modes(grid, x, out);
  out.resolution_ln_d = resolution_widths(out.resolution_kernel, grid.step);
}

}  // namespace sievelight
