// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/desmear.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <cmath>
#include <limits>

namespace sievelight {

using Eigen::ArrayXd;
using Eigen::VectorXd;

Desmeared desmear_lake(const Curve& measured, const SlitProfile& profile, const DesmearOptions& o) {
  check(measured);
  if (measured.size() < 4)
    throw InputError(fmt::format("the curve has {} points.", measured.size()), "Give four or more.");
  const auto bad = (measured.intensity.array() <= 0).count();
  if (bad > 0)
    throw InputError(fmt::format("{} points of the curve are not positive.", bad),
                     "Crop or rebin the curve to where it stands above its noise.");
  if (o.most_iterations < 1 || !(o.chi2_per_point >= 0))
    throw InputError(fmt::format("{} iterations to a chi2 per point of {}.", o.most_iterations, o.chi2_per_point),
                     "Give one iteration or more, and a chi2 of zero or more.");
  const SmearingMatrix s = smearing_matrix(measured.q_per_nm, measured.q_per_nm, profile, o.smear);
  const ArrayXd m = measured.intensity, u = pointwise_u(measured);
  const bool noisy = (u > 0).all();

  Desmeared out;
  out.q_per_nm = measured.q_per_nm;
  out.intensity = measured.intensity;
  std::string stopped = fmt::format("after {} steps, the most allowed", o.most_iterations);
  for (out.iterations = 0;; ++out.iterations) {
    out.smeared = s.matrix * out.intensity;
    if (!(out.smeared.array() > 0).all() || !out.smeared.allFinite())
      throw NumericalError("the smeared estimate is not positive.",
                           "Crop the curve where its noise is as large as its intensity.");
    out.chi2_per_point = noisy ? ((m - out.smeared.array()) / u).square().mean() : std::nan("");
    if (noisy && out.chi2_per_point <= o.chi2_per_point) {
      stopped = fmt::format("after {} steps, at the noise (chi2 per point {:.3g})", out.iterations, out.chi2_per_point);
      break;
    }
    const ArrayXd ratio = m / out.smeared.array();
    if ((ratio - 1).abs().maxCoeff() <= o.least_change) {
      stopped = fmt::format("after {} steps, when no point changed by more than {:g}", out.iterations, o.least_change);
      break;
    }
    if (out.iterations == o.most_iterations) break;
    out.intensity.array() *= ratio;
  }
  out.extrapolated = s.beyond * out.intensity.tail(1)[0];
  out.extrapolated.array() /= out.smeared.array();
  out.note = fmt::format(
      "for plots only: a desmeared curve has larger, dependent errors and is not to be fitted; Lake's iteration "
      "stopped {}; beyond {:.4g} 1/nm I falls as q^-{:g}, which makes up to {:.0f} % of the smeared curve",
      stopped, measured.q_per_nm.tail(1)[0], o.smear.high_q_exponent, 100 * out.extrapolated.maxCoeff());
  if (!noisy) out.note += "; without uncertainties no noise stops it";
  return out;
}

}  // namespace sievelight
