// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/correlation.hpp"

#include "sievelight/analysis/curve_integral.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>
#include <gsl/gsl_sf_expint.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

// sin(x)/x and its second derivative.
double kernel(int order, double x) {
  const double x2 = x * x;
  if (x2 < 1e-2)  // next terms: x^8 / 362880 and x^8 / 3991680
    return order == 0 ? 1.0 - x2 / 6.0 * (1.0 - x2 / 20.0 * (1.0 - x2 / 42.0))
                      : -1.0 / 3.0 + x2 / 10.0 - x2 * x2 / 168.0 + x2 * x2 * x2 / 6480.0;
  const double s = std::sin(x) / x;
  return order == 0 ? s : -s - 2.0 * std::cos(x) / x2 + 2.0 * s / x2;
}

// The integral of q^2 (I - B) k(q), as an estimate: data, start of the curve and Porod's law with their causes.
struct Whole {
  const Curve& curve;
  const CurveIntegral& integral;
  const std::optional<GuinierFit>& guinier;
  const PorodFit& porod;
  double ripples;  // about K q^-4, relative; 0 where the law holds

  // `reach`: what a part of the tail of the size of 1 q^-4, wrong in shape, may do.
  CurveEstimate operator()(const CurveIntegral::Weight& k, const TailKernel& tail, double reach) const {
    const CurveSum low = integral.below(k), data = integral.data(k);
    auto causes = scaled(porod.constant, tail.per_k).causes;
    const auto own = porod.constant.causes.find("Porod's law");
    const double law = own == porod.constant.causes.end() ? 0.0 : own->second;
    // K may be right and the tail's shape wrong by as much: the kernel's envelope, which has no nodes in r.
    causes["shape of the tail"] = std::hypot(law, ripples * porod.constant.value) * reach;
    causes["start of the curve"] = integral.start_error() * low.value;
    return estimate_from(
        curve, low.value + data.value + tail.per_k * porod.constant.value + tail.per_c * porod.next_term.value,
        low.influence + data.influence + tail.per_k * porod.constant.influence + tail.per_c * porod.next_term.influence,
        causes, guinier ? larger_guess(guinier->i0, porod.constant) : porod.constant.guessed_variance);
  }
  CurveEstimate at(int order, double r) const {
    const double x = curve.q_per_nm[integral.join()], y2 = x * x * r * r;
    const double reach = order == 0 ? std::min(1.0, 1.0 / y2) / x : x * std::min(1.0 / 3.0, 1.0 / y2);
    return (*this)([&](double q) { return (order == 2 ? q * q : 1.0) * kernel(order, q * r); },
                   tail_kernel(order, r, x), reach);
  }
};

void store(CurveEstimates& out, Eigen::Index row, const CurveEstimate& e) {
  const Eigen::Index m = out.value.size();
  out.value[row] = e.value;
  out.u[row] = e.u;
  out.influence.row(row) = e.influence;
  for (const auto& [id, sd] : e.causes) {
    auto [place, added] = out.causes.try_emplace(id, Eigen::VectorXd::Zero(m));
    place->second[row] = sd;
  }
}

Eigen::VectorXd radii(const CorrelationOptions& options, double porod_length, double largest) {
  if (options.r_nm.size() > 0) {
    bool rising = options.r_nm[0] >= 0.0 && options.r_nm.allFinite();
    for (Eigen::Index i = 1; i < options.r_nm.size(); ++i) rising = rising && options.r_nm[i] > options.r_nm[i - 1];
    if (!rising) throw InputError("the distances r do not rise from 0 or above.", "Give them in nm, in rising order.");
    return options.r_nm;
  }
  if (!(options.r_max_nm >= 0.0) || !std::isfinite(options.r_max_nm))
    throw InputError(fmt::format("r_max is {} nm.", options.r_max_nm), "Give a positive length, or 0 for the default.");
  const double end = options.r_max_nm > 0.0 ? options.r_max_nm : std::min(8.0 * porod_length, largest);
  return Eigen::VectorXd::LinSpaced(201, 0.0, end);
}

// Size of the ripples about the law in its window, relative to K q^-4, the noise taken off.
double ripples(const Curve& curve, const PorodFit& porod) {
  const Eigen::ArrayXd q = curve.q_per_nm.segment(porod.first, porod.points),
                       u = pointwise_u(curve).segment(porod.first, porod.points),
                       off = curve.intensity.segment(porod.first, porod.points).array() -
                             porod_intensity(porod, q.matrix()).array();
  const Eigen::ArrayXd surface = porod.constant.value * q.pow(-4);
  return std::sqrt(std::max(0.0, ((off.square() - u.square()) / surface.square()).mean()));
}

// Weights (m) of values at r (m) whose sum is the slope at r = 0 of the polynomial through them.
Eigen::VectorXd slope_at_zero(const Eigen::VectorXd& r) {
  const Eigen::Index m = r.size();
  Eigen::MatrixXd powers(m, m);
  for (Eigen::Index k = 0; k < m; ++k) powers.row(k) = r.array().pow(static_cast<double>(k)).transpose();
  return powers.colPivHouseholderQr().solve(Eigen::VectorXd::Unit(m, 1));
}

// -Q / N'(0), N'(0) from N(r) at 1 to 2.5 resolutions alone, so that K plays no part: the slope at 0 of a cubic. Half
// of its distance from a parabola's is an error of its own.
// Largest pi / q_max in Porod lengths: the cubic of exp(-r/a) is then 2 % off at 0 (0.8 (r/a)^3).
constexpr double start_reach = 0.3;

CurveEstimate start_length(const Curve& curve, const Whole& whole, const CurveEstimate& q, double resolution) {
  const Eigen::VectorXd r = resolution * Eigen::Vector4d(1.0, 1.5, 2.0, 2.5), cubic = slope_at_zero(r);
  const Eigen::Vector3i few(0, 1, 3);
  const Eigen::VectorXd parabola = slope_at_zero(r(few));
  CurveEstimate slope;
  Eigen::Vector4d n;
  for (Eigen::Index k = 0; k < 4; ++k) {
    const CurveEstimate at = whole.at(0, r[k]), part = scaled(at, cubic[k]);
    n[k] = at.value;
    if (k == 0) {
      slope = part;
      continue;
    }
    slope.value += part.value;
    slope.influence += part.influence;
    for (const auto& [id, sd] : part.causes) slope.causes[id] += sd;
  }
  slope.causes["extrapolation to r = 0"] = parabola.dot(n(few)) - slope.value;
  return scaled(ratio(curve, q, slope), -1.0);
}

void warn(CorrelationFunction& out, const PorodFit& porod) {
  out.warnings.insert(out.warnings.end(), out.total.warnings.begin(), out.total.warnings.end());
  if (porod.constant.u > 0.2 * porod.constant.value)
    out.warnings.push_back(
        fmt::format("Porod's constant is uncertain by {:.0f} %, and the scale of the chord lengths with it.",
                    100.0 * porod.constant.u / porod.constant.value));
  const double l_p = out.porod_length_nm.value;
  if (!out.start_length_nm) return;
  const CurveEstimate& start = *out.start_length_nm;
  const double u = std::hypot(start.u, out.porod_length_nm.u), off = start.value - l_p;
  if (!(start.value > 0.0) || (std::abs(off) > 3.0 * u && std::abs(off) > 0.1 * l_p))
    out.warnings.push_back(
        fmt::format("The correlation function starts with the length {:.3g} ± {:.2g} nm, but 4 Q / (pi K) is {:.3g} ± "
                    "{:.2g} nm: Porod's constant does not belong to the rest of the curve (walls that are not sharp, a "
                    "background that is not flat, or a tail that was not reached).",
                    start.value, start.u, l_p, out.porod_length_nm.u));
}

}  // namespace

Eigen::MatrixX2d CurveEstimates::band68() const {
  Eigen::MatrixX2d out(value.size(), 2);
  out << value - u, value + u;
  return out;
}
Eigen::MatrixX2d CurveEstimates::band95() const {
  Eigen::MatrixX2d out(value.size(), 2);
  out << value - 1.959963984540054 * u, value + 1.959963984540054 * u;
  return out;
}

TailKernel tail_kernel(int order, double r, double x) {
  if (r == 0.0)  // the limits; for order 2 of the integral as a distribution, K x / 3
    return order == 0 ? TailKernel{1.0 / x, 1.0 / (3.0 * x * x * x)} : TailKernel{x / 3.0, -1.0 / (3.0 * x)};
  // T_n = integral of sin(t) / t^n from y to infinity, by parts down to pi/2 - Si(y).
  const double y = x * r, s = std::sin(y), c = std::cos(y);
  const double t3 = s / (2.0 * y * y) + c / (2.0 * y) - 0.5 * (0.5 * pi - gsl_sf_Si(y));
  const double t5 = s / (4.0 * std::pow(y, 4)) + c / (12.0 * y * y * y) - t3 / 12.0;
  if (order == 0) return {r * t3, r * r * r * t5};
  return {x * (s / (y * y * y) - c / (y * y)), r * (6.0 * t5 - s / std::pow(y, 4) - c / (y * y * y))};
}

CorrelationFunction correlation_function(const Curve& curve, const std::optional<GuinierFit>& guinier,
                                         const PorodFit& porod, const CorrelationOptions& options) {
  check_pinhole(curve, "a correlation function");
  if (porod.law.walls == Walls::smooth)
    throw InputError("the Porod fit has smooth walls: such a correlation function starts flat and has no chords.",
                     "Fit the tail with sharp walls; the start up to the layer's width is then not to be believed.");
  CorrelationFunction out;
  out.total = invariant(curve, guinier, porod);
  const double k = porod.constant.value;
  if (!(k > 0.0))
    throw NumericalError(fmt::format("Porod's constant is {:.3g}: the tail cannot be continued.", k),
                         "Check the background subtraction, or measure to higher q.");
  const bool through = options.data_through_window.value_or(!porod.law_holds);
  const double x = curve.q_per_nm[porod.first + (through ? porod.points - 1 : 0)];
  const double first = curve.q_per_nm[guinier ? guinier->first : 0];
  out.resolution_nm = pi / x;
  out.largest_nm = pi / first;
  out.r_nm = radii(options, 4.0 / pi * out.total.value.value / k, out.largest_nm);
  const Eigen::Index m = out.r_nm.size(), n = curve.size();
  const CurveIntegral integral(curve, guinier, porod, out.r_nm[m - 1], through);
  const Whole whole{curve, integral, guinier, porod, porod.law_holds ? 0.0 : ripples(curve, porod)};
  const CurveEstimate q = whole.at(0, 0.0);
  out.porod_length_nm = scaled(ratio(curve, q, porod.constant), 4.0 / pi);
  for (CurveEstimates* part : {&out.correlation, &out.chords_per_nm})
    *part = {Eigen::VectorXd(m), Eigen::VectorXd(m), Eigen::MatrixXd(m, n), {}};
  for (Eigen::Index i = 0; i < m; ++i) {
    store(out.correlation, i, ratio(curve, whole.at(0, out.r_nm[i]), q));
    store(out.chords_per_nm, i, scaled(ratio(curve, whole.at(2, out.r_nm[i]), porod.constant), 4.0 / pi));
  }
  // With the window's own points, which reach further in.
  const double finest = pi / porod.q_range_per_nm.high;
  if (finest <= start_reach * out.porod_length_nm.value) {
    const CurveIntegral all(curve, guinier, porod, 2.5 * finest, true);
    out.start_length_nm = start_length(curve, {curve, all, guinier, porod, whole.ripples}, q, finest);
  }
  // The first moment of I: Integral of q (K q^-4 + C q^-6) is K / 2 x^2 + C / 4 x^4.
  const CurveEstimate moment = whole([](double at) { return 1.0 / at; },
                                     {1.0 / (2.0 * x * x), 1.0 / (4.0 * std::pow(x, 4))}, 1.0 / (2.0 * x * x));
  out.correlation_length_nm = scaled(ratio(curve, moment, q), pi);
  if (guinier) {
    const CurveSum background =
        background_sum(porod, Eigen::VectorXd::Zero(1), Eigen::VectorXd::Ones(1));  // B at q = 0
    const CurveEstimate start =
        estimate_from(curve, guinier->i0.value - background.value, guinier->i0.influence - background.influence,
                      {{"start of the curve", integral.start_error() * guinier->i0.value}},
                      larger_guess(guinier->i0, porod.constant));
    out.correlation_volume_nm3 = scaled(ratio(curve, start, q), 2.0 * pi * pi);
  }
  warn(out, porod);
  return out;
}

}  // namespace sievelight
