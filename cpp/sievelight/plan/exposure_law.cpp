// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/plan/exposure_law.hpp"

#include "sievelight/base/error.hpp"

#include <algorithm>
#include <cmath>

namespace sievelight {

double ExposureLaw::u(double exposure_s) const { return std::hypot(a * std::pow(exposure_s, -b), floor); }

std::optional<double> ExposureLaw::exposure_s(double u) const {
  if (!(u > floor)) return std::nullopt;
  return std::pow(a / std::sqrt(u * u - floor * floor), 1 / b);
}

std::optional<double> ExposureLaw::pays_until_s() const {
  if (!(floor > 0)) return std::nullopt;
  return std::pow(a / (0.5 * floor), 1 / b);
}

ExposureLaw fit_exposure_law(const Eigen::VectorXd& exposure_s, const Eigen::VectorXd& u_counting, double floor) {
  const auto above_zero = [](const Eigen::VectorXd& v) { return (v.array() > 0).all() && v.allFinite(); };
  if (exposure_s.size() != u_counting.size() || exposure_s.size() == 0 || !above_zero(exposure_s) ||
      !above_zero(u_counting) || !(floor >= 0))
    throw InputError("exposures and uncertainties do not pair, or are not above zero.",
                     "Give one uncertainty an exposure, and a floor >= 0.");
  const Eigen::ArrayXd x = exposure_s.array().log(), y = u_counting.array().log();
  const double x_mean = x.mean(), y_mean = y.mean(), spread = (x - x_mean).square().sum();
  double b = 0.5;
  if (spread > 1e-12) b = std::clamp(-((x - x_mean) * (y - y_mean)).sum() / spread, 0.1, 0.7);
  return {std::exp(y_mean + b * x_mean), b, floor};
}

}  // namespace sievelight
