// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/slit.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gsl.hpp"
#include "sievelight/reduce/slit_rule.hpp"

#include <fmt/format.h>
#include <gsl/gsl_integration.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>
#include <utility>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

constexpr double precision = 1e-10;
constexpr std::size_t most_intervals = 2000;

class Integrator {
 public:
  Integrator() { quiet_gsl(); }

  // To the relative precision, or to `negligible`, whichever is easier.
  double between(const std::function<double(double)>& f, double low, double high, double negligible = 0) {
    gsl_function call{[](double x, void* p) { return (*static_cast<const std::function<double(double)>*>(p))(x); },
                      const_cast<std::function<double(double)>*>(&f)};
    double out = 0, error = 0;
    const int status = gsl_integration_qag(&call, low, high, negligible, precision, most_intervals, GSL_INTEG_GAUSS31,
                                           space_.get(), &out, &error);
    // Rounding stops the rule just short of its goal now and then; ten times the goal is still good.
    if (status != 0 && !(error <= 10 * std::max(precision * std::abs(out), negligible)))
      check_gsl(status, "the integral over the slit");
    return out;
  }

  // Decade by decade, until two in a row add nothing: finds its way whatever the length scales of f.
  double beyond(const std::function<double(double)>& f, double low) {
    double sum = 0;
    int nothing = 0;
    for (int decade = 0; decade < 60; ++decade, low *= 10) {
      const double part = between(f, low, 10 * low, 0.01 * precision * std::abs(sum));
      sum += part;
      nothing = std::abs(part) <= 0.01 * precision * std::abs(sum) ? nothing + 1 : 0;
      if (nothing == 2) return sum;
    }
    throw NumericalError(
        "the integral over an infinite slit does not converge.",
        "The intensity must fall faster than 1/q; subtract the background, or give the slit's length.");
  }

 private:
  std::unique_ptr<gsl_integration_workspace, decltype(&gsl_integration_workspace_free)> space_{
      gsl_integration_workspace_alloc(most_intervals), gsl_integration_workspace_free};
};

double area(const VectorXd& x, const VectorXd& w) {
  double sum = 0;
  for (Index k = 0; k + 1 < x.size(); ++k) sum += 0.5 * (w[k] + w[k + 1]) * (x[k + 1] - x[k]);
  return sum;
}

}  // namespace

LineWeight trapezoid(double half_top, double half_base) {
  if (!(half_top >= 0 && half_top <= half_base && half_base > 0) || !std::isfinite(half_base))
    throw InputError(
        fmt::format("the length profile is {} wide at its top and {} at its base (halves).", half_top, half_base),
        "Give 0 <= half top <= half base.");
  if (half_top == half_base) return measured_weight(Eigen::Vector2d(-half_base, half_base), Eigen::Vector2d(1, 1));
  if (half_top == 0) return measured_weight(Eigen::Vector3d(-half_base, 0, half_base), Eigen::Vector3d(0, 1, 0));
  return measured_weight(Eigen::Vector4d(-half_base, -half_top, half_top, half_base), Eigen::Vector4d(0, 1, 1, 0));
}

LineWeight measured_weight(const VectorXd& position, const VectorXd& weight) {
  const Index n = position.size();
  if (n < 2 || weight.size() != n)
    throw InputError(fmt::format("the profile has {} positions and {} weights.", n, weight.size()),
                     "Give two points or more, a weight for each position.");
  for (Index k = 0; k < n; ++k) {
    if (!std::isfinite(position[k]) || (k > 0 && position[k] <= position[k - 1]))
      throw InputError(fmt::format("the profile's positions do not rise at row {} ({}).", k + 1, position[k]),
                       "Sort the profile by position.");
    if (!std::isfinite(weight[k]) || weight[k] < 0)
      throw InputError(fmt::format("the profile's weight is {} at position {}.", weight[k], position[k]),
                       "Subtract the background from the profile and cut off where it reaches zero.");
  }
  const double sum = area(position, weight);
  if (!(sum > 0))
    throw InputError("the profile's weights are all zero.", "Give the beam's intensity against position.");
  return {position, weight / sum};
}

double sd_of_fwhm(double fwhm) { return fwhm / std::sqrt(8 * std::numbers::ln2); }

double second_moment(const LineWeight& p) {
  double sum = 0;
  for (Index k = 0; k + 1 < p.position.size(); ++k) {
    // A straight line times x^2, exactly: Simpson's rule is exact for cubics.
    const double a = p.position[k], b = p.position[k + 1], m = 0.5 * (a + b);
    const double u = p.weight[k], v = p.weight[k + 1];
    sum += (b - a) / 6 * (a * a * u + 4 * m * m * 0.5 * (u + v) + b * b * v);
  }
  return sum;
}

void check(const SlitProfile& p) {
  if (p.infinite && (p.length || p.geometry))
    throw InputError("an infinite slit has neither a length profile nor a place on a detector.",
                     "Give a length profile, or infinite, in q.");
  if (p.width && p.width_sd > 0)
    throw InputError("the slit has a measured and a Gaussian width.", "Give one of the two.");
  if (!(p.width_sd >= 0) || !std::isfinite(p.width_sd))
    throw InputError(fmt::format("the slit's width is {}.", p.width_sd), "Give zero or more.");
  if (p.geometry && !(p.geometry->distance_mm > 0 && p.geometry->wavelength_nm > 0))
    throw InputError(fmt::format("the distance is {} mm and the wavelength {} nm.", p.geometry->distance_mm,
                                 p.geometry->wavelength_nm),
                     "Give both, positive.");
}

Curve with_slit(const Curve& curve, const SlitProfile& profile) {
  check(curve);
  check(profile);
  if (profile.infinite)
    throw InputError("an infinite slit has no length to put on a curve.", "Give the length profile of the beam.");
  const SlitMap map(profile);
  const double length = profile.length ? std::sqrt(second_moment(*profile.length)) : 0.0;
  const double width = profile.width ? std::sqrt(second_moment(*profile.width)) : profile.width_sd;
  Curve out = curve;
  out.slit_length_per_nm.resize(curve.size());
  out.slit_width_per_nm.resize(curve.size());
  for (Index i = 0; i < curve.size(); ++i) {
    const double place = map.place(curve.q_per_nm[i]);
    out.slit_length_per_nm[i] = length * curve.q_per_nm[i] / place;  // across the scan, q grows with the angle's chord
    out.slit_width_per_nm[i] = width * map.q_slope(place);
  }
  return out;
}

VectorXd smear(const std::function<double(double)>& intensity, const VectorXd& q, const SlitProfile& profile) {
  check(profile);
  const SlitMap map(profile);
  const WidthRule width = width_rule(profile);
  const LineWeight length = profile.length ? folded(*profile.length) : LineWeight{};
  Integrator integrator;
  VectorXd out = VectorXd::Zero(q.size());
  for (Index i = 0; i < q.size(); ++i) {
    const double place = map.place(q[i]);
    for (std::size_t k = 0; k < width.at.size(); ++k) {
      const double x = place + width.at[k];
      const auto seen = [&](double l) { return intensity(map.q_per_nm(std::hypot(x, l))); };
      double sum = 0;
      if (profile.infinite) {
        const double near = std::abs(x) > 0 ? std::abs(x) : 1.0;
        sum = 2 * (integrator.between(seen, 0, near) + integrator.beyond(seen, near));
      } else if (profile.length) {
        for (Index p = 0; p + 1 < length.position.size(); ++p)
          if (length.weight[p] > 0 || length.weight[p + 1] > 0)
            sum += integrator.between([&](double l) { return value(length, l) * seen(l); }, length.position[p],
                                      length.position[p + 1]);
      } else {
        sum = seen(0);
      }
      out[i] += width.weight[k] * sum;
    }
  }
  return out;
}

}  // namespace sievelight
