// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/cylinder.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/distribution/even_product.hpp"
#include "sievelight/distribution/orientation.hpp"

#include <fmt/format.h>
#include <math.h>  // j1 of POSIX, not in <cmath>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

double square(double x) { return x * x; }

double sinc(double x) { return std::abs(x) < 1e-4 ? 1 - x * x / 6 : std::sin(x) / x; }

// 2 J1(x) / x: a disc seen from its plane.
double disc(double x) { return std::abs(x) < 1e-4 ? 1 - x * x / 8 : 2 * ::j1(x) / x; }

double across(double q, double radius_nm, double u) {
  return square(disc(q * radius_nm * std::sqrt(std::max(1 - u * u, 0.0))));
}
double along(double q, double length_nm, double u) { return square(sinc(0.5 * q * length_nm * u)); }

double cylinder_volume(double radius_nm, double length_nm) { return pi * radius_nm * radius_nm * length_nm; }

void check_length(double value, const char* what) {
  if (!(value > 0) || !std::isfinite(value))
    throw InputError(fmt::format("the {} is {} nm.", what, value), "Give a positive length in nm.");
}

}  // namespace

double cylinder_form_factor(double q, double radius_nm, double length_nm) {
  const auto integrand = [&](double angle) {
    const double s = std::sin(angle);
    return s * square(disc(q * radius_nm * s) * sinc(0.5 * q * length_nm * std::cos(angle)));
  };
  // The squared amplitude turns by twice q times the distance from the middle to the edge, at most, per radian.
  const double phase = (2 * q * std::hypot(radius_nm, 0.5 * length_nm) + 2) * pi / 2;
  return integrate_phase(integrand, 0.0, pi / 2, phase);
}

Shape cylinder(double length_ratio) {
  if (!(length_ratio >= 0.02 && length_ratio <= 20))
    throw InputError(fmt::format("the cylinder's length is {} diameters.", length_ratio),
                     "Give 0.02 to 20; for longer pores give the length in nm, for flatter ones take a lamella.");
  Shape out;
  out.name = fmt::format("cylinder of {:g} diameters' length", length_ratio);
  out.form_factor = [=](double q, double d) { return cylinder_form_factor(q, 0.5 * d, length_ratio * d); };
  out.volume_nm3 = [=](double d) { return cylinder_volume(0.5 * d, length_ratio * d); };
  out.surface_per_size = 4 + 2 / length_ratio;
  out.longest_per_size = std::hypot(1.0, length_ratio);
  out.tabulate = true;
  return out;
}

Shape cylinder_of_length(double length_nm) {
  check_length(length_nm, "cylinder's length");
  Shape out;
  out.name = fmt::format("cylinder of {:g} nm length", length_nm);
  out.form_factor = [=](double q, double d) { return cylinder_form_factor(q, 0.5 * d, length_nm); };
  out.volume_nm3 = [=](double d) { return cylinder_volume(0.5 * d, length_nm); };
  out.surface_per_size = 4;
  out.surface_per_nm = 2 / length_nm;
  out.longest_nm = length_nm;
  out.form_factors = [=](double q, const Eigen::ArrayXd& d) {
    EvenProduct product([=](double u) { return along(q, length_nm, u); }, q * length_nm,
                        d.size() > 0 ? q * d.maxCoeff() : 0.0);
    Eigen::ArrayXd p(d.size());
    for (Eigen::Index j = 0; j < d.size(); ++j)
      p[j] = product.integral([&](double u) { return across(q, 0.5 * d[j], u); }, q * d[j]);
    return p;
  };
  return out;
}

Shape lamella(double width_nm) {
  check_length(width_nm, "lamella's width");
  Shape out;
  out.name = fmt::format("lamella of {:g} nm width", width_nm);
  out.form_factor = [=](double q, double d) { return cylinder_form_factor(q, 0.5 * width_nm, d); };
  out.volume_nm3 = [=](double d) { return cylinder_volume(0.5 * width_nm, d); };
  out.size = "thickness";
  out.surface_per_size = 2;
  out.surface_per_nm = 4 / width_nm;
  out.longest_nm = width_nm;
  out.form_factors = [=](double q, const Eigen::ArrayXd& d) {
    EvenProduct product([=](double u) { return across(q, 0.5 * width_nm, u); }, q * width_nm,
                        d.size() > 0 ? q * d.maxCoeff() : 0.0);
    Eigen::ArrayXd p(d.size());
    for (Eigen::Index j = 0; j < d.size(); ++j)
      p[j] = product.integral([&](double u) { return along(q, d[j], u); }, q * d[j]);
    return p;
  };
  return out;
}

}  // namespace sievelight
