// SPDX-License-Identifier: GPL-3.0-or-later
/// Curves of known bodies and noise for the tests of the folder.
#pragma once

#include "sievelight/analysis/lattice.hpp"
#include "sievelight/analysis/peak_profile.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/curve/curve.hpp"

#include <gsl/gsl_sf_bessel.h>

#include <Eigen/Core>
#include <cmath>
#include <random>
#include <vector>

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

/// Peaks of a lattice on the background q^-3 + 0.02. Each has the given height in units of the background under it and
/// the same full width, `relative_width` of the first position; `power` bends each by a factor (q / q_k)^-power.
struct Ordered {
  Symmetry symmetry = Symmetry::p6mm;
  double lattice_nm = 10.0;
  std::vector<double> contrast{5.0, 2.5, 2.5, 1.5};
  double relative_width = 0.06;
  double eta = 0.0;
  double power = 0.0;
};
inline Curve ordered_curve(const Eigen::VectorXd& q, const Ordered& of) {
  const auto background = [](const auto& x) { return x.pow(-3) + 0.02; };
  Eigen::ArrayXd intensity = background(q.array());
  const std::vector<Reflection> all = reflections(of.symmetry, 80);
  const double unit = 2.0 * pi / of.lattice_nm, width = of.relative_width * unit * all[0].ratio;
  for (std::size_t k = 0; k < of.contrast.size(); ++k) {
    const double at = unit * all[k].ratio;
    intensity += of.contrast[k] * (std::pow(at, -3) + 0.02) * peak_shape((q.array() - at) / width, of.eta) *
                 (q.array() / at).pow(-of.power);
  }
  return bare(q, intensity);
}

/// The curve with `relative` times its intensity as u.
inline Curve with_relative_u(Curve curve, double relative) {
  curve.private_u = relative * curve.intensity;
  return curve;
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
