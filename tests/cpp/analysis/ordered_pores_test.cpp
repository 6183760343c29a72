// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/ordered_pores.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

CurveEstimate lattice(double value, double u = 0.0) {
  CurveEstimate out;
  static_cast<Estimate&>(out) = Estimate::normal(value, u);
  return out;
}

// a = 10 nm, phi = 0.5: d 7.425152493, wall 2.574847507 (reference table 8, derived in 30 digits); d10 = 9 nm with a
// pore volume of 0.9 cm3/g and 2.2 g/cm3: d 8.895220457.
TEST(OrderedPores, FollowsTheTableForCylinders) {
  const OrderedPores p = ordered_pores(lattice(10.0), Symmetry::p6mm, {0.5, 0.0});
  EXPECT_NEAR(p.pore_nm.value, 7.425152493, 1e-9);
  EXPECT_NEAR(p.wall_nm.value, 2.574847507, 1e-9);
  EXPECT_NEAR(p.largest_porosity, 0.906900, 1e-6);
  EXPECT_NEAR(ordered_pores(lattice(10.392304845), Symmetry::p6mm, {0.664429530, 0.0}).pore_nm.value, 8.895220457,
              1e-8);
}

TEST(OrderedPores, DividesALayerByItsPorosity) {
  const OrderedPores p = ordered_pores(lattice(8.0, 0.1), Symmetry::lamellar, {0.25, 0.0});
  EXPECT_NEAR(p.pore_nm.value, 2.0, 1e-12);
  EXPECT_NEAR(p.wall_nm.value, 6.0, 1e-12);
  EXPECT_NEAR(p.wall_nm.u, 0.075, 1e-12);
}

// The volume of n spheres of this diameter in a cell is the porosity, and neighbours touch at close packing: pi / 6,
// sqrt3 pi / 8 and pi / (3 sqrt2), the densities of the simple, body- and face-centred packings.
TEST(OrderedPores, FillsTheCellWithCages) {
  const struct {
    Symmetry symmetry;
    double number, packing;
  } cases[] = {{Symmetry::pm3m, 1, pi / 6},
               {Symmetry::im3m, 2, std::sqrt(3.0) * pi / 8},
               {Symmetry::fm3m, 4, pi / (3 * std::sqrt(2.0))}};
  for (const auto& c : cases) {
    const OrderedPores p = ordered_pores(lattice(12.0), c.symmetry, {0.4, 0.0});
    EXPECT_NEAR(c.number * pi / 6.0 * std::pow(p.pore_nm.value / 12.0, 3), 0.4, 1e-12);
    EXPECT_NEAR(p.largest_porosity, c.packing, 1e-12);
    EXPECT_NEAR(ordered_pores(lattice(12.0), c.symmetry, {c.packing - 1e-9, 0.0}).wall_nm.value, 0.0, 1e-7);
    EXPECT_THROW(ordered_pores(lattice(12.0), c.symmetry, {c.packing + 1e-9, 0.0}), InputError);
  }
}

// Areas of the unit cells: A. H. Schoen 1970 (from memory): P 2.3451, D 1.9189, G 3.0915;
// the last differs from the closed form by 6e-5, so 1e-4 for all. The closed forms are held against SciPy's elliptic
// integrals in tests/reference.
TEST(OrderedPores, KnowsTheMinimalSurfaces) {
  EXPECT_NEAR(minimal_surface_area(Symmetry::im3m), 2.3451, 1e-4);
  EXPECT_NEAR(minimal_surface_area(Symmetry::pn3m), 1.9189, 1e-4);
  EXPECT_NEAR(minimal_surface_area(Symmetry::ia3d), 3.0915, 1e-4);
  EXPECT_THROW(minimal_surface_area(Symmetry::p6mm), InputError);
}

// A wall of thickness w holds A w + (pi/6) chi w^3 of the cell; a thin one A w.
TEST(OrderedPores, LaysTheWallAlongTheSurface) {
  const OrderedPores p = ordered_pores(lattice(20.0), Symmetry::ia3d, {0.65, 0.0});
  const double w = p.wall_nm.value / 20.0, area = minimal_surface_area(Symmetry::ia3d);
  EXPECT_NEAR(area * w - 8.0 * pi / 6.0 * w * w * w, 0.35, 1e-12);
  EXPECT_EQ(p.model, PoreModel::channels);
  const OrderedPores thin = ordered_pores(lattice(20.0), Symmetry::ia3d, {0.999, 0.0});
  EXPECT_NEAR(thin.wall_nm.value, 20.0 * 0.001 / area, 1e-6);
  EXPECT_NEAR(thin.pore_nm.value, 20.0 * 4.0 * 0.999 / (2.0 * area), 1e-3);
  EXPECT_THROW(ordered_pores(lattice(20.0), Symmetry::ia3d, {0.05, 0.0}), InputError);
}

TEST(OrderedPores, PropagatesBothUncertainties) {
  for (const Symmetry s : {Symmetry::lamellar, Symmetry::p6mm, Symmetry::im3m, Symmetry::ia3d}) {
    const double phi = 0.6, u_phi = 0.01;
    const OrderedPores p = ordered_pores(lattice(10.0, 0.02), s, {phi, u_phi});
    const OrderedPores more = ordered_pores(lattice(10.0), s, {phi + 1e-6, 0.0});
    const OrderedPores less = ordered_pores(lattice(10.0), s, {phi - 1e-6, 0.0});
    const double pore = (more.pore_nm.value - less.pore_nm.value) / 2e-6 * u_phi;
    const double wall = (more.wall_nm.value - less.wall_nm.value) / 2e-6 * u_phi;
    EXPECT_NEAR(p.pore_nm.u, std::hypot(pore, 0.002 * p.pore_nm.value), 1e-6);
    EXPECT_NEAR(p.wall_nm.u, std::hypot(wall, 0.002 * p.wall_nm.value), 1e-6);
    EXPECT_NEAR(p.pore_nm.causes.at("porosity"), pore, 1e-6);
  }
}

TEST(OrderedPores, RefusesWhatCannotBeDefended) {
  EXPECT_THROW(ordered_pores(lattice(10.0), Symmetry::pm3n, {0.5, 0.0}), InputError);
  EXPECT_THROW(ordered_pores(lattice(10.0), Symmetry::ia3d, {0.5, 0.0}, PoreModel::cylinders), InputError);
  EXPECT_THROW(ordered_pores(lattice(10.0), Symmetry::p6mm, {0.95, 0.0}), InputError);
  EXPECT_THROW(ordered_pores(lattice(10.0), Symmetry::p6mm, {50.0, 0.0}), InputError);
  EXPECT_THROW(ordered_pores(lattice(0.0), Symmetry::p6mm, {0.5, 0.0}), InputError);
  EXPECT_EQ(ordered_pores(lattice(10.0), Symmetry::im3m, {0.5, 0.0}, PoreModel::channels).model, PoreModel::channels);
}

}  // namespace
}  // namespace sievelight
