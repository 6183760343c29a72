// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/multiple_scattering.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {

ScatteringProbability scattering_probability(const Curve& curve, double path_mm, double wavelength_nm) {
  check(curve);
  if (curve.unit != IntensityUnit::per_cm || !(path_mm > 0) || !(wavelength_nm > 0))
    throw InputError(
        fmt::format("the scattering probability needs a curve in 1/cm (this one is {}), a path ({} mm) and "
                    "a wavelength ({} nm).",
                    name(curve.unit), path_mm, wavelength_nm),
        "Reduce the sample to absolute units with its thickness first.");
  const Eigen::Index n = curve.size();
  const bool bins = curve.q_low_per_nm.size() == n;
  Eigen::VectorXd weight(n);  // int q dq over a bin, or by the trapezoid rule between points
  for (Eigen::Index i = 0; i < n; ++i) {
    const double low = bins ? curve.q_low_per_nm[i] : (i > 0 ? curve.q_per_nm[i - 1] : curve.q_per_nm[i]);
    const double high = bins ? curve.q_high_per_nm[i] : (i + 1 < n ? curve.q_per_nm[i + 1] : curve.q_per_nm[i]);
    weight[i] = (bins ? 1.0 : 0.5) * (high * high - low * low) / 2;
  }
  weight *= wavelength_nm * wavelength_nm / (2 * pi) * path_mm / 10;
  return {weight.dot(curve.intensity), std::sqrt(std::max(0.0, weight.dot(covariance(curve) * weight)))};
}

}  // namespace sievelight
