// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/invariant.hpp"

#include "sievelight/analysis/curve_integral.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {
namespace {

// 1 nm^-3 = 1e21 cm^-3.
constexpr double per_cm3 = 1e21;

}  // namespace

Invariant invariant(const Curve& curve, const std::optional<GuinierFit>& guinier, const PorodFit& porod) {
  check_pinhole(curve, "an invariant");
  const CurveIntegral integral(curve, guinier, porod);
  const auto one = [](double) { return 1.0; };
  const CurveSum low = integral.below(one), data = integral.data(one);
  const double q2 = curve.q_per_nm[integral.join()], q_end = porod.q_range_per_nm.high;
  Invariant out;
  const CurveSum tail = surface_tail(porod, q2);
  const double beyond = surface_tail(porod, q_end).value, q = low.value + data.value + tail.value;
  if (!(q > 0.0))
    throw NumericalError(fmt::format("the invariant is {:.4g}, which is not positive.", q),
                         "The background is over-subtracted or the tail is noise; check fit_porod and the background.");
  auto causes = scaled(porod.constant, smooth_tail(2, porod.layer_nm2.value, q2)).causes;
  causes["start of the curve"] = integral.start_error() * low.value;
  out.value = estimate_from(curve, q, low.influence + data.influence + tail.influence, causes,
                            guinier ? larger_guess(guinier->i0, porod.constant) : porod.constant.guessed_variance);
  if (curve.unit != IntensityUnit::relative) out.value_per_cm4 = scaled(out.value, per_cm3);
  out.unit = curve.unit;
  out.q_range_per_nm = {curve.q_per_nm[integral.first()], q2};
  out.guinier_start = guinier.has_value();
  out.share_extrapolated_low = low.value / q;
  out.share_extrapolated_high = beyond / q;
  out.share_fitted_high = (tail.value - beyond) / q;
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
