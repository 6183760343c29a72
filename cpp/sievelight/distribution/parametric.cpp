// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/parametric.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gsl.hpp"
#include "sievelight/base/least_squares.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/distribution/bands.hpp"
#include "sievelight/distribution/diagnose.hpp"
#include "sievelight/distribution/fit_data.hpp"
#include "sievelight/distribution/summary.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <random>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double widest = 1.5;  // of ln D

// Sizes are fitted in ln, widths in ln, shares as a logit: all real numbers. Far outside, the model stands still.
struct Coordinates {
  SizeFamily family;
  const SizeGrid* grid;

  bool is_share(Index k) const { return family == SizeFamily::two_log_normals && k == 4; }
  bool is_size(Index k) const { return family == SizeFamily::two_log_normals ? k == 0 || k == 2 : k == 0; }
  Range bounds(Index k) const {
    if (is_share(k)) return {-9, 9};
    if (is_size(k)) return {std::log(grid->diameter_nm[0]), std::log(grid->diameter_nm[grid->size() - 1])};
    return {std::log(1.2 * grid->step), std::log(family == SizeFamily::gaussian ? 0.5 : widest)};
  }
  VectorXd parameters(const VectorXd& t) const {
    VectorXd p(t.size());
    for (Index k = 0; k < t.size(); ++k) {
      const Range b = bounds(k);
      const double at = std::clamp(t[k], b.low, b.high);
      p[k] = is_share(k) ? 1 / (1 + std::exp(-at)) : std::exp(at);
    }
    return p;
  }
  bool at_a_bound(const VectorXd& t) const {
    for (Index k = 0; k < t.size(); ++k)
      if (const Range b = bounds(k); !(t[k] > b.low + 1e-3 && t[k] < b.high - 1e-3)) return true;
    return false;
  }
};

/// Whitened data, and the model for given coordinates.
struct Problem {
  Coordinates at;
  MatrixXd sizes;  // (n, m) whitened columns
  VectorXd power;  // (n) whitened K q^-p, or empty
  VectorXd y;      // (n)

  struct Profile {
    VectorXd shape;  // (n) whitened curve of unit volume
    double volume = 0, k = 0;
  };
  Profile profile(const VectorXd& t) const {
    Profile out{sizes * family_density(at.family, at.parameters(t), *at.grid)};
    const double aa = out.shape.squaredNorm(), ay = out.shape.dot(y);
    out.volume = std::max(ay / aa, 0.0);
    if (power.size() == 0) return out;
    const double pp = power.squaredNorm(), ap = out.shape.dot(power), py = power.dot(y), det = aa * pp - ap * ap;
    if (det > 1e-12 * aa * pp) {
      const double v = (ay * pp - py * ap) / det, k = (py * aa - ay * ap) / det;
      if (v >= 0 && k >= 0) {
        out.volume = v;
        out.k = k;
      } else if (k >= 0) {
        out.volume = 0;
        out.k = std::max(py / pp, 0.0);
      }
    }
    return out;
  }
  VectorXd residual(const VectorXd& t) const {
    const Profile p = profile(t);
    VectorXd r = p.volume * p.shape - y;
    if (power.size() > 0) r += p.k * power;
    return r;
  }
  double chi2(const VectorXd& t) const { return residual(t).squaredNorm(); }
};

/// Places from which to descend: a net over sizes and widths, the best few of it.
std::vector<VectorXd> starts(const Problem& problem) {
  const Coordinates& c = problem.at;
  const Range ends = c.bounds(0);
  std::vector<VectorXd> net;
  const auto size = [&](int k, int of) { return ends.low + (ends.high - ends.low) * (k + 0.5) / of; };
  const auto row = [&](std::initializer_list<double> values) {
    VectorXd v(static_cast<Index>(values.size()));
    std::copy(values.begin(), values.end(), v.data());
    net.push_back(v);
  };
  switch (c.family) {
    case SizeFamily::monodisperse:
      for (int i = 0; i < 120; ++i) row({size(i, 120)});
      break;
    case SizeFamily::two_log_normals:
      for (int i = 0; i < 14; ++i)
        for (int j = i + 1; j < 14; ++j)
          for (const double share : {-1.5, 0.0, 1.5})
            row({size(i, 14), std::log(0.15), size(j, 14), std::log(0.15), share});
      break;
    default:
      for (int i = 0; i < 24; ++i)
        for (const double width : {0.05, 0.12, 0.3, 0.45}) row({size(i, 24), std::log(width)});
  }
  std::vector<std::pair<double, std::size_t>> order;
  for (std::size_t k = 0; k < net.size(); ++k) order.emplace_back(problem.chi2(net[k]), k);
  std::sort(order.begin(), order.end());
  std::vector<VectorXd> best;
  for (std::size_t k = 0; k < std::min<std::size_t>(5, order.size()); ++k) best.push_back(net[order[k].second]);
  return best;
}

VectorXd best_fit(const Problem& problem) {
  VectorXd best;
  double least = std::numeric_limits<double>::infinity();
  for (const VectorXd& start : starts(problem)) {
    const VectorXd end = minimise_squares([&](const VectorXd& t) { return problem.residual(t); }, start).parameters;
    const double chi2 = problem.chi2(end);
    if (chi2 < least && problem.profile(end).volume > 0) {
      least = chi2;
      best = end;
    }
  }
  if (best.size() == 0)
    throw NumericalError(fmt::format("no {} distribution with volume fits this curve.", name(problem.at.family)),
                         "Check the background subtraction and its scale, and the q range.");
  return best;
}

/// (n, k + 1 [+ 1]) derivatives of the whitened model by the coordinates, ln volume and, where K > 0, ln K.
MatrixXd jacobian(const Problem& problem, const VectorXd& t, const Problem::Profile& p) {
  const Index k = t.size();
  MatrixXd out(problem.y.size(), k + 1 + (p.k > 0 ? 1 : 0));
  const double h = 1e-4;
  for (Index i = 0; i < k; ++i) {
    VectorXd above = t, below = t;
    above[i] += h;
    below[i] -= h;
    out.col(i) = p.volume * (problem.profile(above).shape - problem.profile(below).shape) / (2 * h);
  }
  out.col(k) = p.volume * p.shape;
  if (p.k > 0) out.col(k + 1) = p.k * problem.power;
  return out;
}

struct Named {
  const char* name;
  Estimate ParametricFit::*estimate;
  double (*value)(const Summary&);
};
constexpr Named measures[] = {
    {"x10_nm", &ParametricFit::x10_nm, [](const Summary& s) { return s.x10_nm; }},
    {"x50_nm", &ParametricFit::x50_nm, [](const Summary& s) { return s.x50_nm; }},
    {"x90_nm", &ParametricFit::x90_nm, [](const Summary& s) { return s.x90_nm; }},
    {"mean_nm", &ParametricFit::mean_nm, [](const Summary& s) { return s.mean_nm; }},
    {"relative_width", &ParametricFit::relative_width, [](const Summary& s) { return s.relative_width; }},
};

}  // namespace

SizeGrid family_grid(double q_min_per_nm, double q_max_per_nm) {
  SizeGrid grid = make_grid(q_min_per_nm, q_max_per_nm, std::nullopt,
                            {.cells_per_decade = 420, .most_cells = 1100, .reach_low = 3.0, .reach_high = 2.5});
  grid.window_low = 0;
  grid.window_high = grid.size() - 1;  // a named distribution is known beyond what the data see
  return grid;
}

ParametricFit fit_parametric(const Curve& curve, SizeFamily family, const ParametricOptions& o) {
  quiet_gsl();
  if (!(o.contrast_per_cm2 >= 0) || !std::isfinite(o.contrast_per_cm2))
    throw InputError(fmt::format("the contrast is {} 1/cm^2.", o.contrast_per_cm2),
                     "Give the difference of the scattering-length densities, e.g. 1.864e11 for silica and air.");
  const UsablePoints points = usable_points(curve, o.q_range_per_nm);
  const bool bins = points.curve.q_low_per_nm.size() > 0;
  const Index last = points.curve.size() - 1;
  const double q_low = bins ? points.curve.q_low_per_nm[0] : points.curve.q_per_nm[0];
  const double q_high = bins ? points.curve.q_high_per_nm[last] : points.curve.q_per_nm[last];
  if (curve.has_slit() && !o.kernel.slit)
    throw InputError("the curve was measured with a slit but the model has none.", "Give the profile of the slit.");
  const Kernel coarse = make_kernel(points.curve, make_grid(q_low, q_high), o.kernel);
  const Kernel kernel = make_kernel(points.curve, family_grid(q_low, q_high), o.kernel);
  FitData data = make_fit_data(points.curve, coarse, o.contrast_per_cm2, o.power_law, false);
  const double unit = o.contrast_per_cm2 > 0 ? contrast_factor(o.contrast_per_cm2) : 1.0;

  Problem problem{
      {family, &kernel.grid}, data.noise.whiten(unit * kernel.volume_nm3), {}, data.noise.whiten(data.intensity)};
  if (o.power_law) problem.power = data.noise.whiten(data.power_law);
  VectorXd t = best_fit(problem);
  if (family == SizeFamily::two_log_normals && t[0] > t[2]) {
    std::swap(t[0], t[2]);
    std::swap(t[1], t[3]);
    t[4] = -t[4];
  }
  ParametricFit out;
  out.family = name(family);
  out.shape = kernel.shape;
  const Problem::Profile at = problem.profile(t);
  const MatrixXd j = jacobian(problem, t, at);
  out.chi2 = problem.chi2(t);
  // The flat level is one more number; the covariance has absorbed it.
  const double fitted_numbers = static_cast<double>(j.cols()) + 1;
  const double n = static_cast<double>(data.intensity.size());
  out.degrees_of_freedom = std::max(1.0, n - fitted_numbers);
  out.probability = gsl_cdf_chisq_Q(out.chi2, out.degrees_of_freedom);
  out.bic = out.chi2 + fitted_numbers * std::log(n);
  if (out.probability < 1e-3) {
    out.noise_scale = std::sqrt(out.chi2 / out.degrees_of_freedom);
    out.warnings.push_back(fmt::format(
        "chi^2 per degree of freedom is {:.3g} ({:.0f} degrees): a {} distribution of {}s does not describe "
        "this curve within its uncertainties; they were multiplied by {:.3g}.",
        out.chi2 / out.degrees_of_freedom, out.degrees_of_freedom, out.family, out.shape, out.noise_scale));
  }
  if (problem.at.at_a_bound(t))
    out.warnings.push_back("a parameter ended at the edge of what this q range can carry; its value is a limit.");

  const MatrixXd information = j.transpose() * j;
  const Eigen::LDLT<MatrixXd> solved(information);
  if (solved.info() != Eigen::Success || !(solved.vectorD().array() > 1e-12 * solved.vectorD().maxCoeff()).all())
    out.warnings.push_back("the parameters are not all determined by this curve.");
  MatrixXd covariance = solved.solve(MatrixXd::Identity(j.cols(), j.cols()));
  covariance *= out.noise_scale * out.noise_scale;

  // Draws of the linearised fit, in the coordinates; deterministic for a seed.
  constexpr Index draws = 1500;
  std::mt19937_64 random(o.seed);
  std::normal_distribution<double> normal;
  Eigen::SelfAdjointEigenSolver<MatrixXd> eigen(covariance);
  const MatrixXd root = eigen.eigenvectors() * eigen.eigenvalues().cwiseMax(0.0).cwiseSqrt().asDiagonal();
  const Summariser summarise_one(kernel.grid, o.kernel.shape.surface_per_size, o.kernel.shape.surface_per_nm);
  const Index k = t.size();
  MatrixXd parameters(k, draws), values(static_cast<Index>(std::size(measures)), draws);
  MatrixXd density(kernel.grid.size(), draws);
  VectorXd volume(draws), power_law(draws);
  for (Index d = 0; d < draws; ++d) {
    VectorXd z(j.cols());
    for (double& value : z) value = normal(random);
    const VectorXd step = root * z;
    const VectorXd p = problem.at.parameters(t + step.head(k));
    parameters.col(d) = p;
    const VectorXd x = family_density(family, p, kernel.grid);
    density.col(d) = x.array() / kernel.grid.diameter_nm.array();
    const Summary s = summarise_one(x);
    for (std::size_t m = 0; m < std::size(measures); ++m) values(static_cast<Index>(m), d) = measures[m].value(s);
    const double scale = std::exp(data.coherent.relative_scale * normal(random));
    volume[d] = scale * at.volume * (1 + step[k]);
    power_law[d] = p.size() < j.cols() - 1 && at.k > 0 ? scale * at.k * (1 + step[k + 1]) : 0.0;
  }
  const auto centred = [](const VectorXd& drawn, double value) {
    Estimate e = summarise(drawn);
    e.value = value;  // the minimum itself; the median of the draws differs by their sampling error
    return e;
  };
  const VectorXd here = problem.at.parameters(t);
  for (Index i = 0; i < k; ++i)
    out.parameters[parameter_names(family)[static_cast<std::size_t>(i)]] = centred(parameters.row(i), here[i]);
  const VectorXd x = family_density(family, here, kernel.grid);
  const Summary s = summarise_one(x);
  for (std::size_t m = 0; m < std::size(measures); ++m)
    out.*measures[m].estimate = centred(values.row(static_cast<Index>(m)), measures[m].value(s));
  const bool absolute = o.contrast_per_cm2 > 0 && curve.unit == IntensityUnit::per_cm;
  const bool crowded = o.kernel.interaction.has_value();
  if (absolute && crowded) {
    out.volume_fraction = centred(volume, at.volume);
    out.phi_one_minus_phi = centred(volume.array() * (1 - volume.array()), at.volume * (1 - at.volume));
  } else if (absolute) {
    out.phi_one_minus_phi = centred(volume, at.volume);
  }
  if (o.power_law) out.power_law_k = centred(data.power_law_scale * power_law, data.power_law_scale * at.k);
  if (absolute && at.volume > (crowded ? 1 : 0.25))
    out.warnings.push_back(
        fmt::format("{} = {:.3g} exceeds {}, which no volume fraction can give: contrast, thickness or scale is wrong.",
                    crowded ? "the volume fraction" : "phi(1 - phi)", at.volume, crowded ? "1" : "0.25"));

  out.diameter_nm = kernel.grid.diameter_nm;
  out.q3_per_nm = x.array() / out.diameter_nm.array();
  const Band drawn = bands(density);
  out.q3_low95 = drawn.low95;
  out.q3_high95 = drawn.high95;
  // The curve, with the flat level and the coherent shifts that the data ask for.
  VectorXd model = unit * at.volume * (kernel.volume_nm3 * x);
  if (o.power_law) model += at.k * data.power_law;
  const VectorXd amplitudes = data.noise.amplitudes(data.intensity - model);
  const Index level = amplitudes.size() - 1;
  out.background =
      Estimate::normal(data.background_scale * amplitudes[level],
                       out.noise_scale * data.background_scale * data.noise.amplitude_root().row(level).norm());
  out.q_per_nm = points.curve.q_per_nm;
  out.measured = data.intensity;
  out.fit = model + data.noise.shared() * amplitudes;
  out.residual = (data.intensity - out.fit).array() / data.given_u.array();

  // d summary / d data = (d summary / d coordinates) (J^T J)^-1 J^T W.
  const MatrixXd to_data = data.noise.whiten_back(j * solved.solve(MatrixXd::Identity(j.cols(), j.cols())));
  const auto keep = [&](const std::string& what, const VectorXd& gradient) {
    VectorXd all = VectorXd::Zero(curve.size());
    all(points.index) = to_data * gradient;
    out.influence[what] = all;
  };
  for (const Named& measure : measures) {
    VectorXd gradient = VectorXd::Zero(j.cols());
    for (Index i = 0; i < k; ++i) {
      VectorXd above = t, below = t;
      above[i] += 1e-4;
      below[i] -= 1e-4;
      const auto value = [&](const VectorXd& c) {
        return measure.value(summarise_one(family_density(family, problem.at.parameters(c), kernel.grid)));
      };
      gradient[i] = (value(above) - value(below)) / 2e-4;
    }
    keep(measure.name, gradient);
  }
  const VectorXd of_volume = at.volume * VectorXd::Unit(j.cols(), k);
  if (absolute) keep("phi_one_minus_phi", crowded ? VectorXd((1 - 2 * at.volume) * of_volume) : of_volume);
  if (absolute && crowded) keep("volume_fraction", of_volume);
  return out;
}

}  // namespace sievelight
