// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/judge.hpp"

#include "sievelight/analysis/curve_peaks.hpp"
#include "sievelight/analysis/peak_share.hpp"
#include "sievelight/analysis/residual_tests.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/distribution/diagnose.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

std::string spaced(std::string name) {
  std::replace(name.begin(), name.end(), '_', ' ');
  return name;
}

}  // namespace

std::vector<std::string> assumptions(const KernelOptions& o, const InvertOptions& options) {
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

void refuse_unsupported(const Range& window, const Range& supported) {
  if (window.high > supported.low && window.low < supported.high) return;
  throw InputError(fmt::format("the size window {:.3g} to {:.3g} nm lies outside what this q range supports, {:.3g} to "
                               "{:.3g} nm (3 pi/q_max to pi/q_min).",
                               window.low, window.high, supported.low, supported.high),
                   "Choose a window that overlaps it, or measure another q range.");
}

void refuse_flat(const FitData& data) {
  const Goodness flat{data.compressed.y.squaredNorm() + data.compressed.rest,
                      static_cast<double>(data.intensity.size()) - (data.power_law_scale > 0 ? 2 : 1)};
  if (flat.too_large() < 0.01) return;
  throw NumericalError(
      fmt::format("nothing but a flat level{} is seen: it describes the curve within its uncertainties (chi^2 per "
                  "degree of freedom {:.3g}), so no size can be found.",
                  data.power_law_scale > 0 ? " and a power law" : "", flat.ratio()),
      "Measure longer, check the background subtraction and its scale, and whether the uncertainties are too large.");
}

void refuse_order(const Curve& usable, std::vector<std::string>& warnings) {
  if (usable.has_slit() || usable.size() < fewest_points_for_order) return;
  const CurvePeaks peaks = find_curve_peaks(usable);
  const PeakShare share = peak_share(usable, peaks);
  if (share.role == PeakRole::none) return;
  std::string places;
  for (const CurvePeak& p : peaks.peaks)
    places += fmt::format("{}{:.4g}", places.empty() ? "" : ", ", p.q_per_nm.value);
  if (share.role == PeakRole::carry)
    throw NumericalError(
        fmt::format("peaks of an ordered structure carry this curve (at {} 1/nm; {}): a sum of particles cannot make "
                    "them, and would answer with sizes that are not there.",
                    places, share.words),
        "Index the peaks for lattice, pore and wall; or leave their windows out by the q range; look_for_order = false "
        "inverts all the same.");
  std::string windows;
  for (const Range& w : share.windows_per_nm)
    windows += fmt::format("{}{:.3g} to {:.3g}", windows.empty() ? "" : ", ", w.low, w.high);
  warnings.push_back(
      fmt::format("peaks of an ordered structure disturb this curve (at {} 1/nm; {}); compare the result with one that "
                  "leaves {} 1/nm out.",
                  places, share.words, windows));
}

void judge_gaps(const Curve& usable, const Range& window, std::vector<std::string>& warnings) {
  const Eigen::Index n = usable.size();
  const bool bins = usable.q_low_per_nm.size() > 0;
  Eigen::VectorXd gap(n - 1), ratio(n - 1);
  for (Eigen::Index i = 0; i + 1 < n; ++i) {
    // Bins that touch leave no gap, however wide they are.
    gap[i] = bins ? usable.q_low_per_nm[i + 1] - usable.q_high_per_nm[i] : usable.q_per_nm[i + 1] - usable.q_per_nm[i];
    ratio[i] = std::log(usable.q_per_nm[i + 1] / usable.q_per_nm[i]);
  }
  const double usual = quantile(ratio, 0.5);
  for (Eigen::Index i = 0; i + 1 < n; ++i)
    if (ratio[i] > 5 * usual && gap[i] > pi / window.high)
      warnings.push_back(
          fmt::format("there are no points between {:.3g} and {:.3g} 1/nm: across this gap sizes above "
                      "{:.3g} nm are not sampled, and what is said of them rests on the rest of the curve.",
                      usable.q_per_nm[i], usable.q_per_nm[i + 1], pi / gap[i]));
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

}  // namespace sievelight
