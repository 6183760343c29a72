// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/invariant.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>
#include <gsl/gsl_sf_gamma.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

// 1 nm^-3 = 1e21 cm^-3.
constexpr double per_cm3 = 1e21;

// Integral of q^p exp(-a q^2) from 0 to q1, p = 2 or 4: a^-s Gamma(s) P(s, a q1^2) / 2 with s = (p + 1) / 2.
double gaussian_moment(int p, double a, double q1) {
  const double s = 0.5 * (p + 1);
  return 0.5 * std::pow(a, -s) * gsl_sf_gamma(s) * gsl_sf_gamma_inc_P(s, a * q1 * q1);
}

// Relative error allowed to the part below the first point, one sd. Guinier's law fitted up to q Rg = 1.3 puts the
// start of a random two-phase system 10 % low; a flat start is less than half of the truth where the curve falls from
// its first point on.
constexpr double guinier_start_error = 0.1, flat_start_error = 1.0;
// The flat start's level: points up to this factor above the first q.
constexpr double flat_reach = 1.1;

struct Part {
  double value = 0.0;
  Eigen::VectorXd influence;
};

Part below(const Curve& curve, const std::optional<GuinierFit>& guinier, const PorodFit& porod, Eigen::Index first) {
  const double q1 = curve.q_per_nm[first], cube = q1 * q1 * q1 / 3.0;
  Part out{0.0, Eigen::VectorXd::Zero(curve.size())};
  if (guinier) {
    const double rg = guinier->rg_nm.value, a = rg * rg / 3.0, i0 = guinier->i0.value;
    const double moment = gaussian_moment(2, a, q1);
    out.value = i0 * moment;
    out.influence =
        moment * guinier->i0.influence - (i0 * gaussian_moment(4, a, q1) * 2.0 * rg / 3.0) * guinier->rg_nm.influence;
  } else {
    Eigen::Index few = 1;
    while (first + few < porod.first && curve.q_per_nm[first + few] <= flat_reach * q1) ++few;
    out.value = cube * curve.intensity.segment(first, few).mean();
    out.influence.segment(first, few).setConstant(cube / static_cast<double>(few));
  }
  out.value -= cube * porod.background.value;
  out.influence -= cube * porod.background.influence;
  return out;
}

Part between(const Curve& curve, const PorodFit& porod, Eigen::Index first, Eigen::Index last) {
  Part out{0.0, Eigen::VectorXd::Zero(curve.size())};
  const Eigen::VectorXd& q = curve.q_per_nm;
  for (Eigen::Index i = first; i <= last; ++i) {
    const double width = 0.5 * ((i < last ? q[i + 1] : q[i]) - (i > first ? q[i - 1] : q[i]));
    out.influence[i] = width * q[i] * q[i];
  }
  out.value = out.influence.dot(curve.intensity);
  const double area = out.influence.sum();
  out.value -= area * porod.background.value;
  out.influence -= area * porod.background.influence;
  return out;
}

}  // namespace

Invariant invariant(const Curve& curve, const std::optional<GuinierFit>& guinier, const PorodFit& porod) {
  check_pinhole(curve, "an invariant");
  const Eigen::Index n = curve.size();
  if (porod.constant.influence.size() != n || (guinier && guinier->i0.influence.size() != n))
    throw InputError(fmt::format("the fits do not belong to this curve of {} points.", n),
                     "Fit Guinier's and Porod's law to the same curve that the invariant is asked of.");
  const Eigen::Index first = guinier ? guinier->first : 0, join = porod.first;
  if (join <= first)
    throw InputError(fmt::format("the Porod window starts at q = {:.4g} 1/nm, not above the first point used, {:.4g}.",
                                 curve.q_per_nm[join], curve.q_per_nm[first]),
                     "Give fit_porod a q_range_per_nm at higher q.");
  const Part low = below(curve, guinier, porod, first), data = between(curve, porod, first, join);
  const double q2 = curve.q_per_nm[join], q_end = porod.q_range_per_nm.high;
  Invariant out;
  // Integral of q^2 (K q^-4 + C q^-6) from x to infinity.
  const auto tail = [&](double x) { return porod.constant.value / x + porod.next_term.value / (3.0 * x * x * x); };
  const double q = low.value + data.value + tail(q2);
  if (!(q > 0.0))
    throw NumericalError(fmt::format("the invariant is {:.4g}, which is not positive.", q),
                         "The background is over-subtracted or the tail is noise; check fit_porod and the background.");
  auto causes = scaled(porod.constant, 1.0 / q2).causes;
  causes["start of the curve"] = (guinier ? guinier_start_error : flat_start_error) * low.value;
  out.value = estimate_from(
      curve, q,
      low.influence + data.influence + porod.constant.influence / q2 + porod.next_term.influence / (3.0 * q2 * q2 * q2),
      causes, guinier ? larger_guess(guinier->i0, porod.constant) : porod.constant.guessed_variance);
  if (curve.unit != IntensityUnit::relative) out.value_per_cm4 = scaled(out.value, per_cm3);
  out.unit = curve.unit;
  out.q_range_per_nm = {curve.q_per_nm[first], q2};
  out.guinier_start = guinier.has_value();
  out.share_extrapolated_low = low.value / q;
  out.share_extrapolated_high = tail(q_end) / q;
  out.share_fitted_high = (tail(q2) - tail(q_end)) / q;
  if (std::abs(out.share_extrapolated_low) > 0.1)
    out.warnings.push_back(fmt::format("{:.0f} % of the invariant lies below the first point used, by extrapolation.",
                                       100 * out.share_extrapolated_low));
  if (std::abs(out.share_extrapolated_high) > 0.1)
    out.warnings.push_back(fmt::format("{:.0f} % of the invariant lies beyond the last point, by extrapolation.",
                                       100 * out.share_extrapolated_high));
  if (!porod.law_holds) out.warnings.push_back("Porod's law does not hold in the window that the tail stands on.");
  return out;
}

CurveEstimate phi_one_minus_phi(const Curve& curve, const Invariant& q, double contrast_per_cm2,
                                double contrast_u_per_cm2) {
  if (q.unit != IntensityUnit::per_cm)
    throw InputError(fmt::format("phi (1 - phi) needs an intensity in 1/cm, not {}.", name(q.unit)),
                     "Bring the curve to absolute scale first.");
  if (!(contrast_per_cm2 != 0.0) || !std::isfinite(contrast_per_cm2) || !(contrast_u_per_cm2 >= 0.0))
    throw InputError(fmt::format("the contrast is {} with u = {} 1/cm2.", contrast_per_cm2, contrast_u_per_cm2),
                     "Give the difference of the two phases' scattering-length densities, not zero (silica in air: "
                     "about 1.86e11 1/cm2).");
  const double factor = 1.0 / (2.0 * pi * pi * contrast_per_cm2 * contrast_per_cm2);
  const double value = factor * q.value_per_cm4.value;
  std::map<std::string, double> causes = scaled(q.value_per_cm4, factor).causes;
  if (contrast_u_per_cm2 > 0.0) causes["contrast"] = -2.0 * value * contrast_u_per_cm2 / std::abs(contrast_per_cm2);
  return estimate_from(curve, value, factor * q.value_per_cm4.influence, causes, q.value.guessed_variance);
}

}  // namespace sievelight
