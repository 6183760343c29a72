// SPDX-License-Identifier: GPL-3.0-or-later
/// Curves of known bodies and noise for the tests of the folder.
#pragma once

#include "sievelight/base/units.hpp"
#include "sievelight/curve/curve.hpp"

#include <gsl/gsl_sf_bessel.h>

#include <Eigen/Core>
#include <cmath>
#include <random>

namespace sievelight::synthetic {

/// n values from low to high in equal ratios.
inline Eigen::VectorXd log_grid(double low, double high, Eigen::Index n) {
  return Eigen::ArrayXd::LinSpaced(n, std::log(low), std::log(high)).exp();
}

/// P(qR) of a sphere, 1 at q = 0. Rayleigh 1911, Proc. R. Soc. A 84, 25 (from memory).
inline double sphere(double qr) {
  const double f = 3.0 * gsl_sf_bessel_j1(qr) / qr;
  return f * f;
}

inline Curve bare(const Eigen::VectorXd& q, const Eigen::VectorXd& intensity,
                  IntensityUnit unit = IntensityUnit::relative) {
  Curve out;
  out.q_per_nm = q;
  out.intensity = intensity;
  out.private_u = Eigen::VectorXd::Zero(q.size());
  out.unit = unit;
  return out;
}

inline Curve sphere_curve(const Eigen::VectorXd& q, double radius_nm, double i0) {
  return bare(q, q.unaryExpr([&](double x) { return i0 * sphere(x * radius_nm); }));
}

/// Random two-phase system with the correlation exp(-r/a), in 1/cm for a contrast in 1/cm2:
/// I = 8 pi a^3 phi (1 - phi) contrast^2 / (1 + q^2 a^2)^2. Debye, Anderson, Brumberger 1957 (from memory).
/// (nm^3 cm^-4 = 1e-21 cm^-1.)
inline Curve random_two_phase(const Eigen::VectorXd& q, double a_nm, double phi, double contrast_per_cm2) {
  const double i0 = 8.0 * pi * a_nm * a_nm * a_nm * phi * (1.0 - phi) * contrast_per_cm2 * contrast_per_cm2 * 1e-21;
  return bare(q, i0 * (1.0 + q.array().square() * a_nm * a_nm).square().inverse(), IntensityUnit::per_cm);
}

/// Spheres of log-normal diameters (number median `median_nm`, width s), volume weighted sum of V P, per unit volume of
/// spheres: phi contrast^2 <V^2 P> / <V>, in 1/cm.
inline Curve lognormal_spheres(const Eigen::VectorXd& q, double median_radius_nm, double s, double phi,
                               double contrast_per_cm2) {
  const Eigen::ArrayXd t = Eigen::ArrayXd::LinSpaced(801, -7.0, 7.0);
  const Eigen::ArrayXd radius = median_radius_nm * (s * t).exp(), number = (-0.5 * t.square()).exp();
  const Eigen::ArrayXd volume = 4.0 / 3.0 * pi * radius.cube();
  const double mean_volume = (number * volume).sum();
  Eigen::VectorXd intensity(q.size());
  for (Eigen::Index i = 0; i < q.size(); ++i) {
    double sum = 0.0;
    for (Eigen::Index k = 0; k < t.size(); ++k) sum += number[k] * volume[k] * volume[k] * sphere(q[i] * radius[k]);
    intensity[i] = phi * contrast_per_cm2 * contrast_per_cm2 * 1e-21 * sum / mean_volume;
  }
  return bare(q, intensity, IntensityUnit::per_cm);
}

/// One standard deviation a point, in proportion to sqrt(I) with `relative` at the first point, and a floor.
inline Curve with_counting_u(Curve curve, double relative, double floor = 0.0) {
  const double scale = relative * std::sqrt(curve.intensity[0]);
  curve.private_u = (scale * scale * curve.intensity.array().abs() + floor * floor).sqrt();
  return curve;
}

/// A draw of the curve: own noise, and each coherent cause once.
template <class Random>
Curve draw(Curve curve, Random& random) {
  std::normal_distribution<double> normal;
  for (Eigen::Index i = 0; i < curve.size(); ++i) curve.intensity[i] += normal(random) * curve.private_u[i];
  for (auto& [id, cause] : curve.causes)
    if (cause.kind == CauseKind::coherent) curve.intensity += normal(random) * cause.u;
  return curve;
}

}  // namespace sievelight::synthetic
