// SPDX-License-Identifier: GPL-3.0-or-later
/// Curves whose smearing by a slit has a closed form, and slits. All derived in the convention of slit.hpp and
/// confirmed by quadrature in 30 digits; for the convention: Glatter, Kratky (eds.) 1982, ch. 4.
#pragma once

#include "sievelight/reduce/slit.hpp"

#include <cmath>
#include <numbers>

namespace sievelight {

inline constexpr double rg_nm = 1.7, dab_a_nm = 1.0, pi_ = std::numbers::pi;

inline double guinier(double q) { return std::exp(-q * q * rg_nm * rg_nm / 3); }
inline double dab(double q) { return 1 / std::pow(1 + q * q * dab_a_nm * dab_a_nm, 2); }
inline double porod(double q) { return std::pow(q, -4.0); }
inline double sphere(double x) {
  const double f = x < 0.1 ? 1 - x * x / 10 + std::pow(x, 4) / 280 : 3 * (std::sin(x) - x * std::cos(x)) / (x * x * x);
  return f * f;
}

inline SlitProfile infinite_slit() {
  SlitProfile out;
  out.infinite = true;
  return out;
}
inline SlitProfile box_slit(double half) {
  SlitProfile out;
  out.length = trapezoid(half, half);
  return out;
}
inline SlitProfile gaussian_width(double sd) {
  SlitProfile out;
  out.width_sd = sd;
  return out;
}

inline double dab_infinite(double q) { return pi_ / (2 * dab_a_nm) * std::pow(1 + q * q * dab_a_nm * dab_a_nm, -1.5); }
inline double guinier_infinite(double q) { return std::sqrt(3 * pi_) / rg_nm * guinier(q); }
inline double guinier_box(double q, double half) {
  return std::sqrt(3 * pi_) / (2 * rg_nm * half) * std::erf(half * rg_nm / std::sqrt(3.0)) * guinier(q);
}
inline double porod_box(double q, double half) {
  return (half / (2 * q * q * (q * q + half * half)) + std::atan(half / q) / (2 * q * q * q)) / half;
}

inline Eigen::VectorXd log_grid(double low, double high, Eigen::Index n) {
  return Eigen::VectorXd::LinSpaced(n, std::log(low), std::log(high)).array().exp();
}

}  // namespace sievelight
