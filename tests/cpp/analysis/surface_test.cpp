// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/surface.hpp"

#include "analysis/synthetic.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <string>

namespace sievelight {
namespace {

using namespace synthetic;

constexpr double silica_contrast = 18.6408e10;

// A curve with fits that hold K and Q of an infinite range exactly (in 1/cm nm^-4 and 1/cm nm^-3), J in proportion to
// I.
struct Exact {
  Curve curve;
  PorodFit porod;
  Invariant q;
};

Exact exact(double k, double q, IntensityUnit unit = IntensityUnit::per_cm, double relative_scale_u = 0.0) {
  Exact out;
  out.curve = bare(Eigen::Vector2d(1, 2), Eigen::Vector2d(2, 1), unit);
  if (relative_scale_u > 0.0)
    out.curve.causes["absolute scale"] = {CauseKind::coherent, relative_scale_u * out.curve.intensity};
  const Eigen::VectorXd share = Eigen::Vector2d(0.25, 0.5);  // share . I = 1
  out.porod.constant = estimate_from(out.curve, k, k * share);
  out.porod.constant_per_cm5 = scaled(out.porod.constant, 1e28);
  out.porod.unit = out.q.unit = unit;
  out.q.value = estimate_from(out.curve, q, q * share);
  out.q.value_per_cm4 = scaled(out.q.value, 1e21);
  return out;
}

// phi = 0.3, a = 5 nm, contrast 1: Q = 4.14523384846; K = 1.05557513161; S/V = 0.168 1/nm; l_pore 7.142857, l_solid
// 16.666667, l_p 5 nm (reference table 5.3, infinite range). Twelve digits are given.
TEST(Surface, GivesTheChordsOfARandomTwoPhaseSystem) {
  const Exact e = exact(1.05557513161, 4.14523384846, IntensityUnit::relative);
  const SpecificSurface s = specific_surface(e.curve, e.porod, e.q, {.porosity = Given{0.3, 0.0}});
  EXPECT_NEAR(s.porod_length_nm.value, 5.0, 1e-9);
  EXPECT_NEAR(s.pore_chord_nm->value, 50.0 / 7.0, 1e-9);
  EXPECT_NEAR(s.solid_chord_nm->value, 50.0 / 3.0, 1e-9);
  EXPECT_NEAR(s.from_porosity_m2_per_cm3->value, 168.0, 168e-9);
  // 1 / l_p = 1 / l_pore + 1 / l_solid.
  EXPECT_NEAR(1 / s.pore_chord_nm->value + 1 / s.solid_chord_nm->value, 1 / s.porod_length_nm.value, 1e-12);
  EXPECT_FALSE(s.from_contrast_m2_per_cm3);
  EXPECT_NE(s.volume.find("in which the porosity holds"), std::string::npos);
}

// Porous SiO2, 2.20 g/cm3: Q = 1.440383e23 cm^-4, K = 3.667906e29 cm^-5, S/V = 168 m2/cm3, 109.0909 m2/g (reference
// table 5.3, seven digits). K and Q from the formulas, so that the unit chain holds to 1e-9.
TEST(Surface, FollowsTheUnitsToSquareMetresPerGram) {
  const double k = 2 * pi * std::pow(silica_contrast, 2) * 1.68e6,
               q = 2 * pi * pi * 0.21 * std::pow(silica_contrast, 2);
  EXPECT_NEAR(k / 3.667906e29, 1.0, 1e-6);
  EXPECT_NEAR(q / 1.440383e23, 1.0, 1e-6);
  EXPECT_NEAR(surface_m2_per_cm3(k, silica_contrast), 168.0, 168e-9);
  const Exact e = exact(k * 1e-28, q * 1e-21);
  const SpecificSurface s = specific_surface(e.curve, e.porod, e.q,
                                             {.contrast_per_cm2 = Given{silica_contrast, 0.0},
                                              .porosity = Given{0.3, 0.0},
                                              .skeletal_density_g_per_cm3 = Given{2.2, 0.0}});
  EXPECT_NEAR(s.from_contrast_m2_per_cm3->value, 168.0, 168e-9);
  EXPECT_NEAR(s.from_porosity_m2_per_cm3->value, 168.0, 168e-9);
  EXPECT_NEAR(s.m2_per_g->value, 168.0 / (2.2 * 0.7), 1e-7);
  EXPECT_NEAR(s.m2_per_g->value, 109.0909, 5e-5);
  const SpecificSurface by_apparent = specific_surface(
      e.curve, e.porod, e.q, {.porosity = Given{0.3, 0.0}, .apparent_density_g_per_cm3 = Given{2.2 * 0.7, 0.0}});
  EXPECT_NEAR(by_apparent.m2_per_g->value, s.m2_per_g->value, 1e-7);
  EXPECT_NE(by_apparent.m2_per_g_by.find("apparent"), std::string::npos);
}

// An intensity per gram needs no thickness: K / (2 pi contrast^2) is a surface per gram.
TEST(Surface, PerGramComesStraightFromAnIntensityPerGram) {
  const double k = 2 * pi * std::pow(silica_contrast, 2) * 1.68e6;
  const Exact e = exact(k * 1e-28, 1.0, IntensityUnit::cm2_per_g);
  const SpecificSurface s = specific_surface(e.curve, e.porod, e.q, {.contrast_per_cm2 = Given{silica_contrast, 0.0}});
  EXPECT_NEAR(s.m2_per_g->value, 168.0, 168e-9);
  EXPECT_FALSE(s.from_contrast_m2_per_cm3);
}

// 1 vol% SiO2 spheres of 10 nm in water: S/V = 3 phi / R = 3e4 1/cm = 3 m2/cm3 (reference table 5.3).
TEST(Surface, OfSpheresIsThreePhiOverR) {
  const double contrast = 18.6408e10 - 9.40291e10;
  EXPECT_NEAR(surface_m2_per_cm3(2 * pi * contrast * contrast * 3.0e4, contrast), 3.0, 1e-12);
}

TEST(Surface, CancelsTheScaleExceptWhereTheContrastIsUsed) {
  const Exact e = exact(1.0, 4.0, IntensityUnit::per_cm, 0.05);
  const SpecificSurface s = specific_surface(
      e.curve, e.porod, e.q, {.contrast_per_cm2 = Given{silica_contrast, 0.0}, .porosity = Given{0.3, 0.0}});
  EXPECT_NEAR(s.from_contrast_m2_per_cm3->u, 0.05 * s.from_contrast_m2_per_cm3->value, 1e-12);
  EXPECT_LT(s.from_porosity_m2_per_cm3->u, 1e-12 * s.from_porosity_m2_per_cm3->value);
  EXPECT_LT(s.porod_length_nm.u, 1e-12);
}

// d ln(S/V) = (1/phi - 1/(1 - phi)) dphi; per gram 1/phi dphi; by hand for phi = 0.3 +- 0.03.
TEST(Surface, CarriesTheErrorsOfWhatItWasGiven) {
  const Exact e = exact(1.0, 4.0);
  const SpecificSurface s = specific_surface(e.curve, e.porod, e.q,
                                             {.contrast_per_cm2 = Given{silica_contrast, 0.01 * silica_contrast},
                                              .porosity = Given{0.3, 0.03},
                                              .skeletal_density_g_per_cm3 = Given{2.2, 0.022}});
  EXPECT_NEAR(s.from_porosity_m2_per_cm3->u / s.from_porosity_m2_per_cm3->value, 0.03 * (1 / 0.3 - 1 / 0.7), 1e-12);
  EXPECT_NEAR(s.m2_per_g->u / s.m2_per_g->value, std::hypot(0.03 / 0.3, 0.01), 1e-12);
  EXPECT_NEAR(s.from_contrast_m2_per_cm3->u / s.from_contrast_m2_per_cm3->value, 0.02, 1e-12);
  EXPECT_NEAR(s.solid_chord_nm->causes.at("porosity"), -0.1 * s.solid_chord_nm->value, 1e-12);
}

// By hand: Q / rho_bulk = 2 pi^2 phi (1 - phi) contrast^2 / (2.2 * 0.7) gives back phi = 0.3, and 0.3 / (0.7 * 2.2)
// cm3/g. d ln phi = -2 d ln contrast + d ln rho; dv = dphi / (rho (1 - phi)^2) - v drho / rho.
TEST(Surface, PorosityPerGramNeedsNoThickness) {
  const double q = 2 * pi * pi * 0.21 * std::pow(silica_contrast, 2) / (2.2 * 0.7);
  const Exact e = exact(1.0, q * 1e-21, IntensityUnit::cm2_per_g, 0.05);
  const GrainPorosity p = porosity_per_gram(e.curve, e.q, {silica_contrast, 0.01 * silica_contrast}, {2.2, 0.022});
  EXPECT_NEAR(p.porosity.value, 0.3, 1e-12);
  EXPECT_NEAR(p.porosity.u / 0.3, std::sqrt(0.05 * 0.05 + 0.02 * 0.02 + 0.01 * 0.01), 1e-12);
  const double v = 0.3 / (0.7 * 2.2);
  EXPECT_NEAR(p.pore_volume_cm3_per_g.value, v, 1e-12);
  EXPECT_NEAR(p.pore_volume_cm3_per_g.causes.at("skeletal_density"), 0.003 / (2.2 * 0.49) - 0.01 * v, 1e-12);
  EXPECT_THROW(porosity_per_gram(exact(1.0, 1.0).curve, e.q, {silica_contrast}, {2.2}), InputError);
  EXPECT_THROW(porosity_per_gram(e.curve, e.q, {0.3 * silica_contrast}, {2.2}), NumericalError);
}

TEST(Surface, RefusesWhatItCannotStandFor) {
  const Exact e = exact(1.0, 4.0, IntensityUnit::relative);
  try {
    specific_surface(e.curve, e.porod, e.q, {.contrast_per_cm2 = Given{silica_contrast, 0.0}});
    FAIL() << "accepted";
  } catch (const InputError& error) {
    EXPECT_NE(error.problem().find("relative"), std::string::npos);
    EXPECT_NE(error.mend().find("scale cancels"), std::string::npos);
  }
  EXPECT_THROW(specific_surface(e.curve, e.porod, e.q, {.porosity = Given{30.0, 0.0}}), InputError);
  EXPECT_THROW(specific_surface(e.curve, e.porod, e.q, {.porosity = Given{0.3, -1.0}}), InputError);
  const Exact none = exact(-1.0, 4.0);
  EXPECT_THROW(specific_surface(none.curve, none.porod, none.q, {}), NumericalError);
}

}  // namespace
}  // namespace sievelight
