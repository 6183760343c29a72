// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/peak_profile.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace sievelight {
namespace {

constexpr double four_ln2 = 4.0 * std::numbers::ln2;

// Width of a pseudo-Voigt from those of its parts (Thompson, Cox, Hastings 1987).
double joined(double g, double l) {
  const double g2 = g * g, l2 = l * l;
  return std::pow(g2 * g2 * g + 2.69269 * g2 * g2 * l + 2.42843 * g2 * g * l2 + 4.47163 * g2 * l2 * l +
                      0.07842 * g * l2 * l2 + l2 * l2 * l,
                  0.2);
}

}  // namespace

const char* name(PeakProfile profile) {
  switch (profile) {
    case PeakProfile::gaussian:
      return "gaussian";
    case PeakProfile::lorentzian:
      return "lorentzian";
    case PeakProfile::pseudo_voigt:
      return "pseudo_voigt";
    default:
      return "automatic";
  }
}

Eigen::ArrayXd peak_shape(const Eigen::ArrayXd& t, double eta) {
  return (1.0 - eta) * (-four_ln2 * t.square()).exp() + eta / (1.0 + 4.0 * t.square());
}

Eigen::ArrayXd peak_slope(const Eigen::ArrayXd& t, double eta) {
  return -2.0 * four_ln2 * (1.0 - eta) * t * (-four_ln2 * t.square()).exp() -
         8.0 * eta * t / (1.0 + 4.0 * t.square()).square();
}

double peak_area_factor(double eta) {
  return (1.0 - eta) * std::sqrt(std::numbers::pi / four_ln2) + eta * 0.5 * std::numbers::pi;
}

double own_width(double observed, double blur, PeakProfile profile, double eta) {
  if (observed <= blur) return 0.0;
  if (blur <= 0.0) return observed;
  if (profile == PeakProfile::gaussian) return std::sqrt(observed * observed - blur * blur);
  // w - 0.5346 l = sqrt(0.2166 l^2 + r^2), squared: a quadratic in l; the smaller root has a positive left side.
  if (profile == PeakProfile::lorentzian) {
    const double a = 0.5346 * 0.5346 - 0.2166, b = -2.0 * 0.5346 * observed, c = observed * observed - blur * blur;
    return 2.0 * c / (-b + std::sqrt(b * b - 4.0 * a * c));
  }
  const double e = std::clamp(eta, 0.0, 1.0);
  const double l = observed * (0.72928 * e + 0.19289 * e * e + 0.07783 * e * e * e);
  const double g2 = observed * observed * std::max(0.0, 1.0 - 0.74417 * e - 0.24781 * e * e - 0.00810 * e * e * e);
  return joined(std::sqrt(std::max(0.0, g2 - blur * blur)), l);
}

}  // namespace sievelight
