// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/ordered_pores.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>
#include <gsl/gsl_sf_ellint.h>

#include <cmath>

namespace sievelight {
namespace {

// Pore and wall for a = 1, and their derivatives with respect to phi.
struct Shares {
  double pore = 0.0, wall = 0.0, d_pore = 0.0, d_wall = 0.0;
};

struct Cages {
  double number = 0.0, spacing = 0.0;
};
Cages cages_of(Symmetry symmetry) {
  switch (symmetry) {
    case Symmetry::pm3m:
      return {1.0, 1.0};
    case Symmetry::im3m:
      return {2.0, 0.5 * std::sqrt(3.0)};
    default:
      return {4.0, std::sqrt(0.5)};
  }
}

double euler_characteristic(Symmetry symmetry) {
  return symmetry == Symmetry::ia3d ? -8.0 : symmetry == Symmetry::pn3m ? -2.0 : -4.0;
}

bool belongs(PoreModel model, Symmetry s) {
  switch (model) {
    case PoreModel::slits:
      return s == Symmetry::lamellar;
    case PoreModel::cylinders:
      return s == Symmetry::p6mm;
    case PoreModel::cages:
      return s == Symmetry::pm3m || s == Symmetry::im3m || s == Symmetry::fm3m;
    case PoreModel::channels:
      return s == Symmetry::ia3d || s == Symmetry::pn3m || s == Symmetry::im3m;
    default:
      return false;
  }
}

PoreModel usual_model(Symmetry s) {
  for (const PoreModel model : {PoreModel::slits, PoreModel::cylinders, PoreModel::cages, PoreModel::channels})
    if (belongs(model, s)) return model;
  throw InputError(fmt::format("{} has cages of two sizes: one diameter from the porosity is not defensible.", name(s)),
                   "Quote the lattice parameter, and take the cages from a model of the structure.");
}

double largest_porosity(PoreModel model, Symmetry s) {
  if (model == PoreModel::cylinders) return pi / (2.0 * std::sqrt(3.0));
  if (model != PoreModel::cages) return 1.0;
  const Cages c = cages_of(s);
  return c.number * pi / 6.0 * std::pow(c.spacing, 3);
}

// Wall thickness t for a = 1: 1 - phi = A t + (pi / 6) chi t^3, rising up to where the pores close.
Shares channels(Symmetry s, double phi) {
  const double area = minimal_surface_area(s), chi = euler_characteristic(s);
  const auto solid = [&](double t) { return area * t + pi / 6.0 * chi * t * t * t; };
  const auto slope = [&](double t) { return area + 0.5 * pi * chi * t * t; };
  double low = 0.0, high = std::sqrt(-area / (0.5 * pi * chi));
  if (!(phi > 0.2) || !(solid(high) > 1.0 - phi))
    throw InputError(
        fmt::format("the porosity {:.4g} leaves so thick a wall that it is no layer along a surface.", phi),
        "The model of channels holds from about 0.2 up; check the porosity, or choose another model.");
  for (int k = 0; k < 100; ++k) {
    const double middle = 0.5 * (low + high);
    (solid(middle) < 1.0 - phi ? low : high) = middle;
  }
  const double t = 0.5 * (low + high), surface = 2.0 * slope(t), d_t = -1.0 / slope(t);
  Shares out;
  out.wall = t;
  out.d_wall = d_t;
  out.pore = 4.0 * phi / surface;
  out.d_pore = 4.0 / surface - 4.0 * phi / (surface * surface) * 2.0 * pi * chi * t * d_t;
  return out;
}

Shares shares(PoreModel model, Symmetry s, double phi) {
  if (model == PoreModel::slits) return {phi, 1.0 - phi, 1.0, -1.0};
  if (model == PoreModel::channels) return channels(s, phi);
  if (model == PoreModel::cylinders) {
    const double d = std::sqrt(2.0 * std::sqrt(3.0) * phi / pi);
    return {d, 1.0 - d, 0.5 * d / phi, -0.5 * d / phi};
  }
  const Cages c = cages_of(s);
  const double d = std::cbrt(6.0 * phi / (c.number * pi));
  return {d, c.spacing - d, d / (3.0 * phi), -d / (3.0 * phi)};
}

// factor a, with the porosity's share of the error.
CurveEstimate of_lattice(const CurveEstimate& a, double factor, double d_factor, const Given& porosity) {
  CurveEstimate out = scaled(a, factor);
  const double by_porosity = a.value * d_factor * porosity.u;
  if (porosity.u > 0.0) out.causes["porosity"] += by_porosity;
  // scaled() keeps u of the lattice; a cause of the same id adds with its sign.
  const auto before = a.causes.find("porosity");
  const double shared = before == a.causes.end() ? 0.0 : factor * before->second;
  const double u2 = out.u * out.u - shared * shared + std::pow(shared + by_porosity, 2);
  static_cast<Estimate&>(out) = Estimate::normal(out.value, std::sqrt(u2));
  return out;
}

}  // namespace

const char* name(PoreModel model) {
  static const char* const names[] = {"automatic", "slits", "cylinders", "cages", "channels"};
  return names[static_cast<int>(model)];
}

double minimal_surface_area(Symmetry symmetry) {
  // GSL takes the modulus k, parameter k^2.
  const double k = gsl_sf_ellint_Kcomp(0.5, GSL_PREC_DOUBLE),
               other = gsl_sf_ellint_Kcomp(std::sqrt(0.75), GSL_PREC_DOUBLE);
  switch (symmetry) {
    case Symmetry::im3m:
      return 3.0 * k / other;
    case Symmetry::pn3m:
      return 1.5 * other / k;
    case Symmetry::ia3d:
      return 1.5 * k / other * (1.0 + std::pow(other / k, 2));
    default:
      throw InputError(fmt::format("{} has no minimal surface here.", name(symmetry)),
                       "Ask for Ia-3d, Pn-3m or Im-3m.");
  }
}

OrderedPores ordered_pores(const CurveEstimate& lattice, Symmetry symmetry, const Given& porosity, PoreModel model) {
  if (!(lattice.value > 0.0) || !std::isfinite(lattice.value))
    throw InputError(fmt::format("the lattice parameter is {} nm.", lattice.value), "Give a positive one.");
  if (!(porosity.value > 0.0 && porosity.value < 1.0) || !(porosity.u >= 0.0))
    throw InputError(
        fmt::format("the porosity is {} with u = {}; it must lie between 0 and 1.", porosity.value, porosity.u),
        "Give the ordered pores' share of pores and wall: rho V / (1 + rho V) from a pore volume V (cm3/g) and the "
        "wall's density rho (g/cm3).");
  OrderedPores out;
  out.symmetry = symmetry;
  out.model = model == PoreModel::automatic ? usual_model(symmetry) : model;
  if (!belongs(out.model, symmetry))
    throw InputError(fmt::format("{} do not belong to the symmetry {}.", name(out.model), name(symmetry)),
                     "Slits go with lamellar, cylinders with p6mm, cages with Pm-3m, Im-3m and Fm-3m, channels with "
                     "Ia-3d, Pn-3m and Im-3m.");
  out.largest_porosity = largest_porosity(out.model, symmetry);
  if (porosity.value >= out.largest_porosity)
    throw InputError(fmt::format("a porosity of {:.4g} is too high for {} on {}: they touch at {:.4g}.", porosity.value,
                                 name(out.model), name(symmetry), out.largest_porosity),
                     "Take only the ordered pores' volume (not that between grains or in the wall), or another model.");
  const Shares part = shares(out.model, symmetry, porosity.value);
  out.pore_nm = of_lattice(lattice, part.pore, part.d_pore, porosity);
  out.wall_nm = of_lattice(lattice, part.wall, part.d_wall, porosity);
  switch (out.model) {
    case PoreModel::slits:
      out.pore_is = "gap between layers";
      out.wall_is = "thickness of a layer";
      break;
    case PoreModel::cylinders:
      out.pore_is = "diameter of a cylinder of equal cross-section";
      out.wall_is = "between neighbouring cylinders, at the thinnest place";
      break;
    case PoreModel::cages:
      out.pore_is = "diameter of a spherical cage of equal volume";
      out.wall_is = "between neighbouring cages, at the thinnest place";
      break;
    default:
      out.pore_is = "hydraulic diameter 4 V/S of the channels";
      out.wall_is = "thickness of the wall along the minimal surface";
  }
  return out;
}

}  // namespace sievelight
