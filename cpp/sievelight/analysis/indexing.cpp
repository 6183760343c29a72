// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/indexing.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

// A real profile is not quite the fitted one: its top is known to this share of its width.
constexpr double profile_share = 0.02;
constexpr double seen = 0.85, strong_seen = 0.95, stray_per_ln_q = 0.05, gate = 4.0;

struct Positions {
  VectorXd q, u;  // (k) u with the shape's share
  VectorXd fwhm;  // (k) 0 where unknown
  Range range;
  VectorXd doubtful_q, doubtful_fwhm;  // set-aside peaks that might be real: no reflection is missing there
};

struct Trial {
  double kappa = 0.0;
  std::vector<int> reflection;  // per peak; -1: none
};

// Each peak to the nearest reflection within the gate; of two peaks at one reflection the nearer keeps it.
Trial assign(const Positions& p, const std::vector<Reflection>& all, double kappa) {
  const Index n = p.q.size();
  Trial out{kappa, std::vector<int>(n, -1)};
  std::vector<int> taken(all.size(), -1);
  const auto miss = [&](Index k, std::size_t r) { return std::abs(p.q[k] - kappa * all[r].ratio) / p.u[k]; };
  for (Index k = 0; k < n; ++k) {
    std::size_t best = 0;
    for (std::size_t r = 1; r < all.size(); ++r)
      if (miss(k, r) < miss(k, best)) best = r;
    // The trial's own error adds to the peak's.
    if (miss(k, best) > 2.0 * gate) continue;
    if (taken[best] >= 0) {
      if (miss(taken[best], best) <= miss(k, best)) continue;
      out.reflection[taken[best]] = -1;
    }
    taken[best] = static_cast<int>(k);
    out.reflection[k] = static_cast<int>(best);
  }
  return out;
}

double fitted_kappa(const Positions& p, const std::vector<Reflection>& all, const Trial& trial) {
  double top = 0.0, bottom = 0.0;
  for (Index k = 0; k < p.q.size(); ++k) {
    if (trial.reflection[k] < 0) continue;
    const double r = all[trial.reflection[k]].ratio, w = 1.0 / (p.u[k] * p.u[k]);
    top += w * r * p.q[k];
    bottom += w * r * r;
  }
  return bottom > 0.0 ? top / bottom : trial.kappa;
}

// Drops what lies beyond the gate after the fit, until nothing does.
Trial settle(const Positions& p, const std::vector<Reflection>& all, double kappa) {
  Trial trial = assign(p, all, kappa);
  for (int pass = 0; pass < 10; ++pass) {
    const double next = fitted_kappa(p, all, trial);
    Trial again = assign(p, all, next);
    for (Index k = 0; k < p.q.size(); ++k)
      if (again.reflection[k] >= 0 && std::abs(p.q[k] - next * all[again.reflection[k]].ratio) > gate * p.u[k])
        again.reflection[k] = -1;
    const bool same = again.reflection == trial.reflection && std::abs(next - trial.kappa) < 1e-12 * next;
    trial = std::move(again);
    if (same) break;
  }
  return trial;
}

struct Weighed {
  LatticeCandidate candidate;
  double log_likelihood = -1e300;
};

Weighed weigh(const Positions& p, Symmetry symmetry, const std::vector<Reflection>& all, const Trial& trial) {
  Weighed out;
  LatticeCandidate& c = out.candidate;
  c.symmetry = symmetry;
  const double kappa = trial.kappa;
  double log_l = 0.0, weight = 0.0;
  int last = -1;
  for (Index k = 0; k < p.q.size(); ++k) {
    const int r = trial.reflection[k];
    if (r < 0) {
      c.unindexed.push_back(static_cast<int>(k));
      log_l += std::log(stray_per_ln_q);
      continue;
    }
    const double deviation = (p.q[k] - kappa * all[r].ratio) / p.u[k];
    c.indexed.push_back({static_cast<int>(k), all[r], p.q[k], deviation});
    c.chi2 += deviation * deviation;
    weight += std::pow(all[r].ratio * kappa / p.u[k], 2);
    // Normal density over ln q.
    log_l += -0.5 * deviation * deviation - std::log(p.u[k] / p.q[k] * std::sqrt(2.0 * pi));
    log_l += std::log(all[r].strong ? strong_seen : seen);
    last = std::max(last, r);
  }
  if (c.indexed.empty()) return out;
  log_l += 0.5 * std::log(2.0 * pi / weight);  // integral over ln kappa around its best value
  for (std::size_t r = 0; r < all.size(); ++r) {
    const double q = kappa * all[r].ratio;
    if (q > p.range.high || q < p.range.low) continue;
    if (static_cast<int>(r) > last && !all[r].strong) continue;
    bool there = false;  // seen, or hidden under a neighbour
    for (Index k = 0; k < p.q.size(); ++k)
      there = there || trial.reflection[k] == static_cast<int>(r) || std::abs(p.q[k] - q) < 0.7 * p.fwhm[k];
    for (Index k = 0; k < p.doubtful_q.size(); ++k)
      there = there || std::abs(p.doubtful_q[k] - q) < 0.5 * p.doubtful_fwhm[k];
    if (there) continue;
    log_l += std::log(1.0 - (all[r].strong ? strong_seen : seen));
    c.missing.push_back(all[r]);
    c.misses_strong = c.misses_strong || all[r].strong;
  }
  c.degrees_of_freedom = static_cast<int>(c.indexed.size()) - 1;
  c.chi2_probability = c.degrees_of_freedom > 0 ? gsl_cdf_chisq_Q(c.chi2, c.degrees_of_freedom) : 1.0;
  c.explains = c.unindexed.empty() && c.chi2_probability > 1e-3 && !c.misses_strong;
  out.log_likelihood = log_l;
  return out;
}

// The best lattice of one symmetry.
Weighed best_of(const Positions& p, Symmetry symmetry) {
  // Reflections up to the last peak of the finest lattice that is tried.
  constexpr int first_few = 6;
  const std::vector<Reflection> low = reflections(symmetry, 40);
  const double reach = p.range.high / p.q[0] * low[first_few - 1].ratio / low[0].ratio;
  const int largest = static_cast<int>(std::min(400.0, std::pow(reach, 2) * low[0].m + 2.0));
  const std::vector<Reflection> all = reflections(symmetry, std::max(largest, 40));
  Weighed best;
  for (Index k = 0; k < p.q.size(); ++k)
    for (int r = 0; r < first_few; ++r) {
      Weighed trial = weigh(p, symmetry, all, settle(p, all, p.q[k] / all[r].ratio));
      if (trial.log_likelihood > best.log_likelihood) best = std::move(trial);
    }
  return best;
}

std::string words(const Indexing& result, Index peaks) {
  const auto list = [&](auto wanted) {
    std::string out;
    for (const LatticeCandidate& c : result.candidates)
      if (wanted(c)) out += fmt::format("{}{} ({:.0f} %)", out.empty() ? "" : ", ", name(c.symmetry), 100.0 * c.share);
    return out;
  };
  if (peaks == 1) return fmt::format("one peak: a spacing of {:.4g} nm only, no symmetry", result.spacing_nm.value);
  if (result.candidates.empty()) return "no lattice was found";
  const LatticeCandidate& first = result.candidates.front();
  if (result.decided) return fmt::format("{}, a = {:.5g} nm", name(first.symmetry), first.lattice_nm.value);
  const std::string fit = list([](const LatticeCandidate& c) { return c.explains && c.share >= 0.01; });
  if (fit.empty()) return "none of the symmetries explains all peaks";
  return fmt::format("undecided: {}", fit);
}

// `lattice` turns da / dq (k) of a candidate into its estimate.
template <class Lattice>
Indexing index_all(const Positions& p, const IndexingOptions& options, Lattice lattice) {
  if (options.symmetries.empty())
    throw InputError("no symmetry is given to index against.", "Name at least one, or leave all.");
  Indexing out;
  std::vector<Weighed> found;
  for (const Symmetry symmetry : options.symmetries) {
    Weighed best = best_of(p, symmetry);
    if (!best.candidate.indexed.empty()) found.push_back(std::move(best));
  }
  double top = -1e300, sum = 0.0;
  for (const Weighed& w : found) top = std::max(top, w.log_likelihood);
  for (Weighed& w : found) sum += w.candidate.share = std::exp(w.log_likelihood - top);
  std::stable_sort(found.begin(), found.end(),
                   [](const Weighed& a, const Weighed& b) { return a.log_likelihood > b.log_likelihood; });
  for (Weighed& w : found) {
    LatticeCandidate& c = w.candidate;
    c.share /= sum;
    double top_sum = 0.0, bottom = 0.0;
    for (const IndexedPeak& i : c.indexed) {
      const double weight = std::pow(p.u[i.peak], -2);
      top_sum += weight * i.reflection.ratio * i.q_per_nm;
      bottom += weight * i.reflection.ratio * i.reflection.ratio;
    }
    const double kappa = top_sum / bottom, a = 2.0 * pi / kappa;
    VectorXd slope = VectorXd::Zero(p.q.size());
    for (const IndexedPeak& i : c.indexed)
      slope[i.peak] = -a / kappa * std::pow(p.u[i.peak], -2) * i.reflection.ratio / bottom;
    c.lattice_nm = lattice(a, slope);
    out.candidates.push_back(std::move(c));
  }
  const Index peaks = p.q.size();
  out.decided =
      peaks > 1 && !out.candidates.empty() && out.candidates.front().explains && out.candidates.front().share >= 0.95;
  VectorXd first = VectorXd::Zero(peaks);
  first[0] = -2.0 * pi / (p.q[0] * p.q[0]);
  out.spacing_nm = lattice(2.0 * pi / p.q[0], first);
  out.verdict = words(out, peaks);
  if (peaks == 2)
    out.warnings.push_back(
        "Two peaks give one ratio: several lattices share it, and the share leans on what is not seen.");
  return out;
}

// What a smooth factor under the peak may do to its top, 2 s^2 / q with s the sd of the peak.
double shape_u(double q, double fwhm) { return fwhm * fwhm / (4.0 * std::numbers::ln2 * q); }

// Fewest points within one full width of a peak.
double points_per_width(const Curve& curve, const std::vector<CurvePeak>& peaks) {
  double least = std::numeric_limits<double>::infinity();
  for (const CurvePeak& peak : peaks) {
    const double half = 0.5 * peak.fwhm_per_nm.value;
    const auto inside = (curve.q_per_nm.array() - peak.q_per_nm.value).abs() <= half;
    least = std::min(least, static_cast<double>(inside.count()));
  }
  return least;
}

}  // namespace

Indexing index_peaks(const Curve& curve, const CurvePeaks& peaks, const IndexingOptions& options) {
  const Index n = static_cast<Index>(peaks.peaks.size());
  if (n == 0)
    throw InputError("there is no peak of order to index.",
                     peaks.set_aside.empty()
                         ? "The search found none above chance; see its false_alarm and q_range_per_nm."
                         : "All that were found were set aside; each says why.");
  Positions p{VectorXd(n), VectorXd(n), VectorXd(n), peaks.q_range_per_nm, {}, {}};
  VectorXd shape(n), guess;
  for (Index k = 0; k < n; ++k) {
    const CurvePeak& peak = peaks.peaks[k];
    if (peak.q_per_nm.influence.size() != curve.size())
      throw InputError("the peaks do not belong to this curve.", "Search the peaks of the same curve.");
    p.q[k] = peak.q_per_nm.value;
    p.fwhm[k] = peak.fwhm_per_nm.value;
    shape[k] = shape_u(p.q[k], p.fwhm[k]);
    // Only what is independent from peak to peak weighs: a wrong distance moves all of them in one proportion.
    const VectorXd variance =
        peak.q_per_nm.guessed_variance.size() > 0 ? peak.q_per_nm.guessed_variance : pointwise_u(curve).cwiseAbs2();
    p.u[k] = std::sqrt(peak.q_per_nm.influence.cwiseAbs2().dot(variance) + shape[k] * shape[k] +
                       std::pow(profile_share * p.fwhm[k], 2));
    if (peak.q_per_nm.guessed_variance.size() > 0)
      guess = guess.size() > 0 ? guess.cwiseMax(peak.q_per_nm.guessed_variance).eval() : peak.q_per_nm.guessed_variance;
  }
  const Index aside = static_cast<Index>(peaks.set_aside.size());
  p.doubtful_q.resize(aside);
  p.doubtful_fwhm.resize(aside);
  for (Index k = 0; k < aside; ++k) {
    p.doubtful_q[k] = peaks.set_aside[k].q_per_nm.value;
    p.doubtful_fwhm[k] = peaks.set_aside[k].fwhm_per_nm.value;
  }
  Indexing out = index_all(p, options, [&](double value, const VectorXd& slope) {
    VectorXd influence = VectorXd::Zero(curve.size());
    std::map<std::string, double> causes;
    double profile = 0.0;
    for (Index k = 0; k < n; ++k) {
      if (slope[k] == 0.0) continue;
      influence += slope[k] * peaks.peaks[k].q_per_nm.influence;
      // One factor lies under all peaks, so their tops move together.
      causes["peak shape"] += slope[k] * shape[k];
      profile += std::pow(slope[k] * profile_share * p.fwhm[k], 2);
    }
    causes["peak profile"] = std::sqrt(profile);
    if (options.q_scale_relative_u > 0.0) causes["q scale"] = -value * options.q_scale_relative_u;
    return estimate_from(curve, value, influence, std::move(causes), guess);
  });
  // A reduction takes dI/dq from three bins at least, so on a coarse curve an error of the q scale looks smaller than
  // it is: 88 to 100 % of it reach a peak's position at 3 points to its width and more, 71 to 86 % at 2 (measured).
  const bool coherent = std::any_of(curve.causes.begin(), curve.causes.end(),
                                    [](const auto& cause) { return cause.second.kind == CauseKind::coherent; });
  const double points = points_per_width(curve, peaks.peaks);
  if (coherent && options.q_scale_relative_u == 0.0 && points < 3.0)
    out.warnings.push_back(fmt::format(
        "The narrowest peak has {:.0f} points to its width: errors of distance and wavelength that the curve "
        "carries reach the lattice only to some three quarters. Bin finer, or "
        "give q_scale_relative_u.",
        points));
  return out;
}

Indexing index_positions(const VectorXd& q, const VectorXd& u, Range range, const IndexingOptions& options) {
  if (q.size() == 0 || q.size() != u.size())
    throw InputError(fmt::format("{} positions and {} uncertainties were given.", q.size(), u.size()),
                     "Give one standard uncertainty for each of one or more positions.");
  for (Index k = 0; k < q.size(); ++k)
    if (!(q[k] > (k > 0 ? q[k - 1] : 0.0)) || !std::isfinite(q[k]) || !(u[k] > 0.0) || !std::isfinite(u[k]))
      throw InputError(fmt::format("position {} is q = {} with u = {} 1/nm.", k + 1, q[k], u[k]),
                       "Give rising, positive positions with a positive standard uncertainty each.");
  const Positions p{q, u, VectorXd::Zero(q.size()), range, {}, {}};
  return index_all(p, options, [&](double value, const VectorXd& slope) {
    double variance = slope.cwiseProduct(u).squaredNorm();
    CurveEstimate out;
    if (options.q_scale_relative_u > 0.0) {
      out.causes["q scale"] = -value * options.q_scale_relative_u;
      variance += std::pow(out.causes["q scale"], 2);
    }
    static_cast<Estimate&>(out) = Estimate::normal(value, std::sqrt(variance));
    return out;
  });
}

}  // namespace sievelight
