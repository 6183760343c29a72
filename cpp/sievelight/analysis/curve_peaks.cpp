// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/curve_peaks.hpp"

#include "sievelight/analysis/oscillation.hpp"
#include "sievelight/analysis/peak_search.hpp"
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
constexpr double ripple_widths = 2.5;
constexpr double flank_share = 0.08;

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

void add_peaks(CurvePeaks& out, const PeakSearchGroup& group, const Curve& curve, const PointWeights& weights,
               Index offset, const PeakSearchData& data, const std::vector<PeakSearchGroup>& all,
               const PeakOptions& options) {
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
  const PeakSearchData data{part(curve.q_per_nm), part(curve.intensity), part(weights.smooth)};

  CurvePeaks out;
  out.q_range_per_nm = {data.q[0], data.q[data.q.size() - 1]};
  out.false_alarm = options.false_alarm;
  out.unit = curve.unit;
  out.background = out.fit = VectorXd::Constant(curve.size(), nan);
  const PeakSearch search = search_peaks(data, options);
  const std::vector<PeakSearchGroup>& groups = search.groups;
  out.places = search.places;
  for (const PeakSearchGroup& group : groups) add_peaks(out, group, curve, weights, first, data, groups, options);
  set_aside_on_flanks(out);
  set_aside_waves(out, options.least_advantage);
  const auto rising = [](const CurvePeak& a, const CurvePeak& b) { return a.q_per_nm.value < b.q_per_nm.value; };
  std::sort(out.peaks.begin(), out.peaks.end(), rising);
  std::sort(out.set_aside.begin(), out.set_aside.end(), rising);

  if (!weights.known)
    out.warnings.push_back(
        "The curve has no uncertainty of its own: it was guessed from the scatter of neighbours, and the false alarm "
        "rate with it.");
  if (search.given_up > 0)
    out.warnings.push_back(fmt::format(
        "{} excesses over the background could not be fitted as peaks and were passed over.", search.given_up));
  if (!out.peaks.empty() && !out.peaks.front().resolution_known)
    out.warnings.push_back(
        "The curve carries no q resolution: own widths are upper limits and domain sizes lower limits.");
  return out;
}

}  // namespace sievelight
