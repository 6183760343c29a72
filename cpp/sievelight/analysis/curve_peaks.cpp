// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/curve_peaks.hpp"

#include "sievelight/analysis/oscillation.hpp"
#include "sievelight/analysis/peak_fit.hpp"
#include "sievelight/analysis/peak_scan.hpp"
#include "sievelight/analysis/weights.hpp"
#include "sievelight/base/error.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <utility>

namespace sievelight {
namespace {

using Eigen::ArrayXd;
using Eigen::Index;
using Eigen::VectorXd;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
const double fwhm_of_sd = 2.0 * std::sqrt(2.0 * std::numbers::ln2);
constexpr double window_widths = 3.5;
constexpr double ripple_widths = 2.5;
// A fitted profile is right to about this share of the peak; the scan of what is left forgives as much.
constexpr double profile_tolerance = 0.03;
constexpr double flank_share = 0.08;
constexpr double width_growth = 4.0;

struct Group {
  std::vector<PeakStart> starts;
  std::vector<PeakCandidate> found;
  Index first = 0, points = 0;
  PeakGroup fit;
};

// The part of the curve that is looked at.
struct Data {
  ArrayXd q, intensity, variance;
};

void set_window(Group& group, const ArrayXd& q) {
  double low = q[q.size() - 1], high = q[0];
  for (const PeakStart& s : group.starts) {
    low = std::min(low, s.q_per_nm - window_widths * s.fwhm_per_nm);
    high = std::max(high, s.q_per_nm + window_widths * s.fwhm_per_nm);
  }
  const Index n = q.size(), least = std::min<Index>(n, static_cast<Index>(3 * group.starts.size()) + 8);
  Index first = std::lower_bound(q.data(), q.data() + n, low) - q.data();
  Index last = std::upper_bound(q.data(), q.data() + n, high) - q.data();
  while (last - first < least) {
    if (first > 0) --first;
    if (last < n && last - first < least) ++last;
  }
  group.first = first;
  group.points = last - first;
}

// What all groups but `without` put on the curve.
ArrayXd known_peaks(const std::vector<Group>& groups, const Group* without, const ArrayXd& q) {
  ArrayXd out = ArrayXd::Zero(q.size());
  for (const Group& group : groups) {
    if (&group == without) continue;
    for (const PeakStart& p : group.fit.peaks)
      out += p.height * peak_shape((q - p.q_per_nm) / p.fwhm_per_nm, group.fit.eta);
  }
  return out;
}

int number_of_peaks(const std::vector<Group>& groups) {
  std::size_t out = 0;
  for (const Group& group : groups) out += group.fit.peaks.size();
  return static_cast<int>(out);
}

void fit_group(Group& group, const std::vector<Group>& all, const Data& data, PeakProfile profile) {
  set_window(group, data.q);
  const ArrayXd known = known_peaks(all, &group, data.q);
  const auto part = [&](const ArrayXd& x) { return x.segment(group.first, group.points).eval(); };
  group.fit = fit_peak_group(part(data.q), part(data.intensity - known),
                             part(data.variance + (profile_tolerance * known).square()), group.starts, profile);
  if (group.fit.settled) group.starts = group.fit.peaks;
}

bool near(const Group& group, const PeakCandidate& c) {
  for (const PeakStart& s : group.starts)
    if (std::abs(s.q_per_nm - c.q_per_nm) < 1.5 * (s.fwhm_per_nm + c.fwhm_per_nm)) return true;
  return false;
}

bool on_top(const std::vector<Group>& groups, const PeakCandidate& c) {
  for (const Group& group : groups)
    for (const PeakStart& s : group.starts)
      if (std::abs(s.q_per_nm - c.q_per_nm) < 0.7 * std::max(s.fwhm_per_nm, c.fwhm_per_nm)) return true;
  return false;
}

// False when a peak has become a bend of the background: half its q wide, or with another peak on top of it (what a
// profile misses of one peak is no second one), or far wider than the higher peak beside it. Peaks of one lattice share
// their domains; their widths grow with q^2 at most (distortion of the second kind).
bool stand_apart(const Group& group, const std::vector<Group>& others, double largest_relative_width) {
  std::vector<PeakStart> all = group.fit.peaks;
  for (const Group& other : others)
    if (&other != &group) all.insert(all.end(), other.fit.peaks.begin(), other.fit.peaks.end());
  const auto apart = [](const PeakStart& a, const PeakStart& b) { return std::abs(a.q_per_nm - b.q_per_nm); };
  for (std::size_t k = 0; k < group.fit.peaks.size(); ++k) {
    const PeakStart& p = all[k];
    if (p.fwhm_per_nm > 2.0 * largest_relative_width * p.q_per_nm) return false;
    const PeakStart* higher = nullptr;
    for (const PeakStart& o : all) {
      if (&o == &p) continue;
      if (apart(o, p) < 0.7 * std::max(o.fwhm_per_nm, p.fwhm_per_nm)) return false;
      if (o.height > p.height && (higher == nullptr || apart(o, p) < apart(*higher, p))) higher = &o;
    }
    if (higher != nullptr &&
        p.fwhm_per_nm > width_growth * higher->fwhm_per_nm * std::max(1.0, std::pow(p.q_per_nm / higher->q_per_nm, 2)))
      return false;
  }
  return true;
}

// Adds the candidate, fitted with its neighbours or beside them as they are; false when neither settles.
bool add(std::vector<Group>& groups, const PeakCandidate& candidate, const Data& data, const PeakOptions& options) {
  Group alone;
  alone.starts.push_back({candidate.q_per_nm, candidate.fwhm_per_nm, candidate.height});
  alone.found.push_back(candidate);
  Group joined = alone;
  std::vector<Group> others;
  for (const Group& group : groups) {
    if (!near(group, candidate)) {
      others.push_back(group);
      continue;
    }
    joined.starts.insert(joined.starts.end(), group.starts.begin(), group.starts.end());
    joined.found.insert(joined.found.end(), group.found.begin(), group.found.end());
  }
  const auto sensible = [&](Group& group, const std::vector<Group>& beside) {
    fit_group(group, beside, data, options.profile);
    return group.fit.settled && stand_apart(group, beside, options.largest_relative_width);
  };
  if (sensible(joined, others)) {
    others.push_back(std::move(joined));
    groups = std::move(others);
    return true;
  }
  if (others.size() == groups.size() || !sensible(alone, groups)) return false;
  groups.push_back(std::move(alone));
  return true;
}

// Scan, add the clearest, fit again, until chance could make the next.
std::vector<Group> search(const Data& data, const PeakOptions& options, double& places, int& given_up) {
  PeakScan scan(data.q, data.intensity, data.variance,
                {options.false_alarm, options.background_tolerance, options.largest_relative_width});
  places = scan.places();
  std::vector<Group> groups;
  std::vector<PeakCandidate> failed;
  // Where fits fail again and again there are bends and ripples left, and no peaks.
  int in_a_row = 0;
  for (int k = 0; k < 3 * options.most_peaks && in_a_row < 8; ++k) {
    if (number_of_peaks(groups) >= options.most_peaks) break;
    const auto next = scan.clearest();
    if (!next) break;
    if (on_top(groups, *next)) {  // what a profile leaves of its own peak is no second one
      scan.block(next->q_per_nm, 0.3 * next->fwhm_per_nm);
      continue;
    }
    const bool added = add(groups, *next, data, options);
    if (!added) failed.push_back(*next);
    in_a_row = added ? 0 : in_a_row + 1;
    // Where a fit failed there is no such peak to be had, though a narrow one may stand on a hump; and elsewhere the
    // scan should not pick at a peak's flanks.
    scan.block(next->q_per_nm, (added ? 0.5 : 1.0) * next->fwhm_per_nm, added ? 0.0 : 0.4 * next->fwhm_per_nm);
    const ArrayXd known = known_peaks(groups, nullptr, data.q);
    scan.update(data.intensity - known, data.variance + (profile_tolerance * known).square());
  }
  // What failed beside unknown neighbours may stand beside known ones.
  for (const PeakCandidate& again : failed)
    if (!on_top(groups, again) && !add(groups, again, data, options)) ++given_up;
  // The neighbours' tails are known better now.
  for (int pass = 0; pass < 2; ++pass)
    for (Group& group : groups) {
      const Group before = group;
      fit_group(group, groups, data, options.profile);
      if (!group.fit.settled || !stand_apart(group, groups, options.largest_relative_width)) group = before;
    }
  return groups;
}

// Full width at half height of resolution and bin at q; `known` tells whether the curve carries the first.
double blur_fwhm(const Curve& curve, double q, bool& known) {
  const Index n = curve.size();
  const Index k =
      std::min<Index>(n - 1, std::max<Index>(0, std::lower_bound(curve.q_per_nm.data(), curve.q_per_nm.data() + n, q) -
                                                    curve.q_per_nm.data()));
  double variance = 0.0;
  known = curve.q_resolution_per_nm.size() == n;
  if (known) variance += std::pow(curve.q_resolution_per_nm[k], 2);
  if (curve.q_low_per_nm.size() == n && curve.q_high_per_nm.size() == n)
    variance += std::pow(curve.q_high_per_nm[k] - curve.q_low_per_nm[k], 2) / 12.0;
  return fwhm_of_sd * std::sqrt(variance);
}

// Own width with its uncertainty from the observed width and the blur's own u, and its 95 % upper limit.
void take_out_blur(CurvePeak& peak, const Curve& curve, double relative_u) {
  const double w = peak.fwhm_per_nm.value, r = peak.blur_fwhm_per_nm, eta = peak.lorentzian_share;
  const auto own = [&](double observed, double blur) { return own_width(observed, blur, peak.profile, eta); };
  const double value = own(w, r), step = 1e-4 * w;
  const double slope =
      value > 0.0 ? (own(w + step, r) - own(std::max(w - step, r), r)) / (w + step - std::max(w - step, r)) : 0.0;
  const double by_blur = value > 0.0 && r > 0.0 ? (own(w, r + step) - own(w, std::max(0.0, r - step))) /
                                                      (r + step - std::max(0.0, r - step))
                                                : 0.0;
  std::map<std::string, double> causes;
  for (const auto& [id, sd] : peak.fwhm_per_nm.causes) causes[id] = slope * sd;
  if (by_blur != 0.0 && relative_u > 0.0) causes["q resolution"] = by_blur * relative_u * r;
  peak.own_fwhm_per_nm =
      estimate_from(curve, value, slope * peak.fwhm_per_nm.influence, causes, peak.fwhm_per_nm.guessed_variance);
  // One-sided 95 %: linear propagation fails where the own width meets zero, so the ends are worked out.
  constexpr double z95 = 1.6448536269514722;
  const double u_excess = std::hypot(peak.fwhm_per_nm.u, relative_u * r);
  peak.own_fwhm_limit_per_nm = own(w + z95 * u_excess, r);
  peak.resolution_limited = r > 0.0 && w - z95 * u_excess <= r;
}

void add_peaks(CurvePeaks& out, const Group& group, const Curve& curve, const PointWeights& weights, Index offset,
               const Data& data, const std::vector<Group>& all, const PeakOptions& options) {
  const Index n = curve.size(), m = group.points, at = offset + group.first;
  const PeakGroup& fit = group.fit;
  const double excess = std::max(1.0, fit.chi2 / fit.degrees_of_freedom);
  const double probability = gsl_cdf_chisq_Q(fit.chi2, fit.degrees_of_freedom);
  VectorXd guess;  // stays empty where the curve's own errors explain the scatter
  if (!weights.known || probability < 0.05) guess = weights.variance * excess;
  const ArrayXd q = data.q.segment(group.first, m), variance = data.variance.segment(group.first, m);
  const ArrayXd others = known_peaks(all, &group, data.q).segment(group.first, m);
  const ArrayXd measured = data.intensity.segment(group.first, m);
  for (Index i = 0; i < m; ++i) {
    out.background[at + i] = fit.background[i];
    out.fit[at + i] = fit.fit[i] + others[i];
  }
  for (std::size_t k = 0; k < fit.peaks.size(); ++k) {
    const PeakStart& p = fit.peaks[k];
    const auto result = [&](double value, const VectorXd& inside) {
      VectorXd influence = VectorXd::Zero(n);
      influence.segment(at, m) = inside;
      return estimate_from(curve, value, influence, {}, guess);
    };
    const Index row = static_cast<Index>(3 * k);
    const VectorXd d_q = fit.influence.row(row), d_log_w = fit.influence.row(row + 1), d_h = fit.influence.row(row + 2);
    CurvePeak peak;
    peak.q_per_nm = result(p.q_per_nm, d_q);
    peak.height = result(p.height, d_h);
    peak.fwhm_per_nm = result(p.fwhm_per_nm, p.fwhm_per_nm * d_log_w);
    const double factor = peak_area_factor(fit.eta);
    peak.area = result(factor * p.height * p.fwhm_per_nm, factor * p.fwhm_per_nm * (d_h + p.height * d_log_w));
    peak.profile = fit.profile;
    peak.lorentzian_share = fit.eta;
    peak.blur_fwhm_per_nm = blur_fwhm(curve, p.q_per_nm, peak.resolution_known);
    take_out_blur(peak, curve, peak.resolution_known ? options.resolution_relative_u.value_or(0.05) : 0.0);
    // The candidate that this peak grew from is the nearest one.
    const auto from = std::min_element(group.found.begin(), group.found.end(), [&](const auto& a, const auto& b) {
      return std::abs(a.q_per_nm - p.q_per_nm) < std::abs(b.q_per_nm - p.q_per_nm);
    });
    peak.z = from->z;
    peak.false_alarm = from->false_alarm;
    peak.window_per_nm = {q[0], q[m - 1]};
    peak.chi2_probability = weights.known ? probability : nan;
    Index middle = 0;
    (q - p.q_per_nm).abs().minCoeff(&middle);
    peak.background = fit.background[middle];

    const double reach = ripple_widths * p.fwhm_per_nm;
    Index low = 0, high = m;
    while (low < middle - 5 && q[low] < p.q_per_nm - reach) ++low;
    while (high > middle + 6 && q[high - 1] > p.q_per_nm + reach) --high;
    const Index points = high - low;
    const auto part = [&](const ArrayXd& x) { return x.segment(low, points).eval(); };
    // Neither model is right to better than a few percent of the peak.
    const ArrayXd loose = part(variance) + std::pow(profile_tolerance * p.height, 2);
    const double peaks_chi2 = ((part(measured - others) - fit.fit.array().segment(low, points)).square() / loose).sum();
    int numbers = 3;
    for (const PeakStart& other : fit.peaks) numbers += 3 * (other.q_per_nm >= q[low] && other.q_per_nm <= q[high - 1]);
    peak.advantage = advantage_over_ripple(ripple_chi2(part(q), part(measured), loose, p.q_per_nm, p.fwhm_per_nm),
                                           peaks_chi2, numbers, points);

    const double relative = p.fwhm_per_nm / p.q_per_nm;
    if (!(p.height > 3.0 * peak.height.u))
      peak.set_aside = fmt::format("its fitted height is {:.1f} times its uncertainty only", p.height / peak.height.u);
    else if (relative > options.largest_relative_width)
      peak.set_aside = fmt::format("a hump {:.2f} of its q wide: a usual distance, but no order", relative);
    else if (measured.minCoeff() > 0.0 && peak.background < -0.02 * p.height)
      peak.set_aside = "its fit needs a background below zero, where every intensity is positive";
    else if (peak.advantage < -options.least_advantage)
      peak.set_aside = "ripples of a form factor explain it better";
    else if (peak.advantage < options.least_advantage)
      peak.set_aside = "ripples of a form factor explain it as well: cannot be told";
    (peak.set_aside.empty() ? out.peaks : out.set_aside).push_back(std::move(peak));
  }
}

// Lobes of ripples are half a period wide, so peaks that fill half of the way to their neighbours on both sides overlap
// into a wave; and what stands among ripples goes with them, one after the other.
void set_aside_waves(CurvePeaks& out, double least) {
  std::vector<double> ripples, all;
  for (const CurvePeak& peak : out.set_aside) {
    all.push_back(peak.q_per_nm.value);
    if (peak.advantage < -least) ripples.push_back(peak.q_per_nm.value);
  }
  for (const CurvePeak& peak : out.peaks) all.push_back(peak.q_per_nm.value);
  const auto wave = [&](const CurvePeak& peak) {
    bool below = false, above = false;
    for (const double q : all) {
      const double apart = q - peak.q_per_nm.value;
      below = below || (apart < 0.0 && -apart < 2.0 * peak.fwhm_per_nm.value);
      above = above || (apart > 0.0 && apart < 2.0 * peak.fwhm_per_nm.value);
    }
    return below && above;
  };
  const auto among = [&](const CurvePeak& peak) {
    return std::any_of(ripples.begin(), ripples.end(),
                       [&](double q) { return std::abs(q - peak.q_per_nm.value) < 3.0 * peak.fwhm_per_nm.value; });
  };
  for (bool more = true; more;) {
    more = false;
    for (auto peak = out.peaks.begin(); peak != out.peaks.end();) {
      const bool is_wave = wave(*peak);
      if (!is_wave && !among(*peak)) {
        ++peak;
        continue;
      }
      peak->set_aside = is_wave ? "it overlaps its neighbours on both sides into a wave, as ripples do"
                                : "it stands among ripples of a form factor";
      ripples.push_back(peak->q_per_nm.value);
      out.set_aside.push_back(std::move(*peak));
      peak = out.peaks.erase(peak);
      more = true;
    }
  }
}

// A real profile is not quite any of the three: what it leaves on its flank is no peak that could be told from one.
void set_aside_on_flanks(CurvePeaks& out) {
  const std::vector<CurvePeak> all = std::exchange(out.peaks, {});
  for (CurvePeak peak : all) {
    for (const CurvePeak& other : all)
      if (peak.height.value < flank_share * other.height.value &&
          std::abs(other.q_per_nm.value - peak.q_per_nm.value) < ripple_widths * other.fwhm_per_nm.value)
        peak.set_aside = "a few percent of its neighbour, on whose flank it stands: may be a part of that";
    (peak.set_aside.empty() ? out.peaks : out.set_aside).push_back(std::move(peak));
  }
}

}  // namespace

CurvePeaks find_curve_peaks(const Curve& curve, const PeakOptions& options) {
  check_pinhole(curve, "peaks of order");
  if (!(options.false_alarm > 0.0 && options.false_alarm < 0.5) ||
      !(options.largest_relative_width > 0.0 && options.largest_relative_width <= 0.5) ||
      !(options.background_tolerance >= 0.0) || options.most_peaks < 1 ||
      !(options.resolution_relative_u.value_or(0.0) >= 0.0))
    throw InputError(
        fmt::format("false_alarm = {}, largest_relative_width = {}, background_tolerance = {}, most_peaks = {}, "
                    "resolution_relative_u = {} make no search.",
                    options.false_alarm, options.largest_relative_width, options.background_tolerance,
                    options.most_peaks, options.resolution_relative_u.value_or(0.05)),
        "Give a false alarm rate between 0 and 0.5, a largest relative width up to 0.5, a tolerance and an "
        "uncertainty of 0 or more, and at least one peak.");
  Index first = 0, last = curve.size();
  if (options.q_range_per_nm) {
    while (first < last && curve.q_per_nm[first] < options.q_range_per_nm->low) ++first;
    while (last > first && curve.q_per_nm[last - 1] > options.q_range_per_nm->high) --last;
  }
  if (last - first < 15)
    throw InputError(fmt::format("{} points are there to look for peaks; 15 are needed.", last - first),
                     "Widen q_range_per_nm, or reduce the frames onto more q bins: a peak needs several points.");
  const PointWeights weights = point_weights(curve);
  const auto part = [&](const VectorXd& x) { return ArrayXd(x.segment(first, last - first).array()); };
  const Data data{part(curve.q_per_nm), part(curve.intensity), part(weights.smooth)};

  CurvePeaks out;
  out.q_range_per_nm = {data.q[0], data.q[data.q.size() - 1]};
  out.false_alarm = options.false_alarm;
  out.unit = curve.unit;
  out.background = out.fit = VectorXd::Constant(curve.size(), nan);
  int given_up = 0;
  const std::vector<Group> groups = search(data, options, out.places, given_up);
  for (const Group& group : groups) add_peaks(out, group, curve, weights, first, data, groups, options);
  set_aside_on_flanks(out);
  set_aside_waves(out, options.least_advantage);
  const auto rising = [](const CurvePeak& a, const CurvePeak& b) { return a.q_per_nm.value < b.q_per_nm.value; };
  std::sort(out.peaks.begin(), out.peaks.end(), rising);
  std::sort(out.set_aside.begin(), out.set_aside.end(), rising);

  if (!weights.known)
    out.warnings.push_back(
        "The curve has no uncertainty of its own: it was guessed from the scatter of neighbours, and the false alarm "
        "rate with it.");
  if (given_up > 0)
    out.warnings.push_back(
        fmt::format("{} excesses over the background could not be fitted as peaks and were passed over.", given_up));
  if (!out.peaks.empty() && !out.peaks.front().resolution_known)
    out.warnings.push_back(
        "The curve carries no q resolution: own widths are upper limits and domain sizes lower limits.");
  return out;
}

}  // namespace sievelight
