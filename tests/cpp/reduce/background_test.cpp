// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/background.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/reduce/average.hpp"
#include "sievelight/reduce/transmission.hpp"

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::MatrixXd;
using Eigen::VectorXd;

double pores(double q) { return 200 / std::pow(1 + q * q * 9, 2); }
double cell(double q) { return 3 / q; }

TEST(AbsoluteCurve, ReturnsWhatWasPutIn) {
  const VectorXd edges = log_edges(0.1, 3.0, 40);
  const double ts = 0.3, tb = 0.85, d = 0.15, k = 2.5e-7;  // d in cm
  const Measured s{"s",
                   curve_on_bins(
                       edges, [&](double q) { return ts * (d * pores(q) / k + cell(q) / k); }, 0.01),
                   Factor{ts, {}}};
  const Measured b{"b",
                   curve_on_bins(
                       edges, [&](double q) { return tb * cell(q) / k; }, 0.02),
                   Factor{tb, {}}};
  const Absolute a = absolute_curve(s, b, {.thickness_mm = 1.5, .absolute_scale = Factor{k, {}}});
  EXPECT_EQ(a.curve.unit, IntensityUnit::per_cm);
  for (int i = 0; i < 40; ++i) {
    const double expected = pores(a.curve.q_per_nm[i]);
    EXPECT_NEAR(a.curve.intensity[i], expected, 1e-10 * (expected + cell(a.curve.q_per_nm[i]) / d));
    EXPECT_NEAR(a.curve.private_u[i], 0.01 * s.curve.intensity[i] / ts / d * k, 1e-10);
    EXPECT_NEAR(a.curve.causes.at("counts: b").u[i], -0.02 * cell(a.curve.q_per_nm[i]) / d, 1e-9);
  }
  EXPECT_EQ(a.curve.causes.at("counts: b").kind, CauseKind::pointwise);
  ASSERT_EQ(a.steps.size(), 6u);
  EXPECT_EQ(a.steps[0].name, "transmission");
  EXPECT_NEAR(a.steps[0].factor_mid, 1 / ts, 1e-12);
  EXPECT_EQ(a.steps[1].name, "background");
  EXPECT_FALSE(a.steps[2].applied);
}

// Every cause is drawn once by its id and carried through the equation itself, for two samples that share background,
// empty beam and scale. 20000 draws: a covariance is known to 1/sqrt(20000) = 0.7 % of the product of the sds.
TEST(AbsoluteCurve, CovariancesWithinAndBetweenCurvesAreThoseOfBruteForce) {
  const VectorXd edges = log_edges(0.1, 2.0, 6);
  const double tb = 0.85, k = 0.5;
  const auto sample_s = [&](double t, double d, double level) {
    return curve_on_bins(
        edges, [=](double q) { return t * (d * level * pores(q) + cell(q)) / k; }, 0.01);
  };
  const Curve b0 = curve_on_bins(
      edges, [&](double q) { return tb * cell(q) / k; }, 0.03);
  const auto t_of = [](const std::string& name, double t) {
    return Factor{t, {{"transmission: " + name, 0.004}, {"empty beam: air", -0.01 * t}}};
  };
  const double t1 = 0.3, t2 = 0.4, d1 = 0.15, d2 = 0.1;
  const Curve s1 = sample_s(t1, d1, 1.0), s2 = sample_s(t2, d2, 0.8);
  AbsoluteOptions o{.thickness_mm = 10 * d1, .thickness_u_mm = 0.03};
  o.absolute_scale = Factor{k, {{"absolute scale: table", 0.0258 * k}}};
  o.background_scale = Factor{1.0, {{"background scale: b", 0.02}}};
  const Measured b{"b", b0, t_of("b", tb)};
  const Curve c1 = absolute_curve({"1", s1, t_of("1", t1)}, b, o).curve;
  o.thickness_mm = 10 * d2;
  const Curve c2 = absolute_curve({"2", s2, t_of("2", t2)}, b, o).curve;

  std::mt19937_64 random(31);
  std::normal_distribution<double> normal;
  const int draws = 20000;
  MatrixXd x(draws, 12);
  for (int r = 0; r < draws; ++r) {
    const double empty = normal(random), etb = normal(random), scale_b = normal(random), table = normal(random);
    VectorXd bb = b0.intensity;
    for (int i = 0; i < 6; ++i) bb[i] += b0.private_u[i] * normal(random);
    const double tbr = tb + 0.004 * etb - 0.01 * tb * empty;
    const auto draw = [&](const Curve& s, double t, double d, int column) {
      const double tr = t + 0.004 * normal(random) - 0.01 * t * empty, dr = d + 0.003 * normal(random);
      for (int i = 0; i < 6; ++i)
        x(r, column + i) =
            k * (1 + 0.0258 * table) / dr *
            ((s.intensity[i] + s.private_u[i] * normal(random)) / tr - (1 + 0.02 * scale_b) * bb[i] / tbr);
    };
    draw(s1, t1, d1, 0);
    draw(s2, t2, d2, 6);
  }
  const MatrixXd centred = x.rowwise() - x.colwise().mean();
  const MatrixXd seen = centred.transpose() * centred / (draws - 1);
  MatrixXd claimed(12, 12);
  claimed << covariance(c1), covariance(c1, c2), covariance(c2, c1), covariance(c2);
  for (int i = 0; i < 12; ++i)
    for (int j = 0; j < 12; ++j) {
      const double sds = std::sqrt(claimed(i, i) * claimed(j, j));
      // 4 standard deviations of the simulation plus what linear propagation leaves out (squares of 3 %).
      EXPECT_NEAR(seen(i, j) / sds, claimed(i, j) / sds, 4 * std::sqrt(2.0 / draws) + 0.005) << i << " " << j;
    }
  EXPECT_LT(c1.causes.at("transmission: 1").u[0], 0);  // a higher transmission means less scattering
  EXPECT_GT(c1.causes.at("transmission: b").u[0], 0);
}

TEST(AbsoluteCurve, OfTheBackgroundAgainstItselfIsZeroWithoutCommonErrors) {
  const Curve b = curve_on_bins(log_edges(0.1, 2.0, 20), cell, 0.03);
  const Factor t{0.8, {{"transmission: b", 0.01}}};
  const Absolute a = absolute_curve({"b", share(b, "counts: b"), t}, Measured{"b", b, t});
  EXPECT_LT(a.curve.intensity.cwiseAbs().maxCoeff(), 1e-12);
  EXPECT_LT(total_u(a.curve).maxCoeff(), 1e-12);
}

// Source: forward model of equations.md: sample self-absorption C, its way through the wall behind, and
// walls seen obliquely.
TEST(AbsoluteCurve, UndoesSelfAbsorptionAndObliqueWalls) {
  const double lambda = 0.154, ts = 0.25, tb = 0.9, d = 0.1;
  const VectorXd edges = log_edges(0.5, 20.0, 30);
  const auto cosine = [&](double q) { return cos_two_theta(q, lambda); };
  const Measured s{"s",
                   curve_on_bins(
                       edges,
                       [&](double q) {
                         const double own = ts / tb, excess = 1 / cosine(q) - 1;
                         const double c = plate_self_absorption(own, excess) * std::pow(tb, excess / 2);
                         return ts * (d * c * pores(q) + 0.5 * (1 + std::pow(own, excess)) * cell(q));
                       },
                       0.01),
                   Factor{ts, {{"transmission: s", 0.01}}}};
  const Measured b{"b",
                   curve_on_bins(
                       edges, [&](double q) { return tb * cell(q); }, 0.01),
                   Factor{tb, {}}};
  AbsoluteOptions o{.thickness_mm = 1.0, .absolute_scale = Factor{1.0, {}}};
  o.shape = PlateShape{0.0, WallPosition::both};
  o.wavelength_nm = lambda;
  const Absolute a = absolute_curve(s, b, o);
  for (int i = 0; i < 30; ++i) {
    const double q = a.curve.q_per_nm[i];
    EXPECT_NEAR(a.curve.intensity[i], pores(q), 1e-11 * (pores(q) + cell(q) / d));
  }
  // The transmission's cause is the derivative of the whole expression: finite differences of T, error h^2.
  const double h = 1e-5;
  Measured up = s, down = s;
  up.transmission->value += h;
  down.transmission->value -= h;
  const VectorXd slope =
      (absolute_curve(up, b, o).curve.intensity - absolute_curve(down, b, o).curve.intensity) / (2 * h);
  EXPECT_TRUE(a.curve.causes.at("transmission: s").u.isApprox(0.01 * slope, 1e-6));
  EXPECT_HOLDS(message<InputError>([&] { absolute_curve({"s", s.curve, {}}, b, o); }), "without its transmission");
}

// C at the mean q of a bin against C on every pixel: the difference on a wide-angle detector (2theta to 45 degrees),
// the thickest plate anyone measures and a curve as steep as q^-4.
TEST(AbsoluteCurve, SelfAbsorptionOfABinIsThatOfItsPixels) {
  DetectorGeometry g = small_detector();
  g.distance_mm = 20;
  const PixelMap map = pixel_map(g, 60, 70);
  const Mask stop = map.q_per_nm < 2.0;
  const VectorXd edges = make_bins(map, stop, {.bins = 60});
  const double t = 0.1;
  Frame flat = expected_frame(map, map.solid_angle_sr(), 1.0, [](double q) { return std::pow(q, -4); }),
        absorbed = flat;
  absorbed.counts *= map.cos_two_theta().unaryExpr([&](double c) { return plate_self_absorption(t, 1 / c - 1); });
  AverageOptions options;
  options.corrections.off = {StepKind::polarisation};
  const Averaged a = average({&flat}, map, stop, edges, options), b = average({&absorbed}, map, stop, edges, options);
  AbsoluteOptions o;
  o.shape = PlateShape{};
  o.wavelength_nm = g.wavelength_nm;
  const Absolute corrected = absolute_curve({"s", b.curve, Factor{t, {}}}, {}, o);
  const VectorXd ratio = corrected.curve.intensity.array() * t / a.curve.intensity.array();
  EXPECT_GT(1 / plate_self_absorption(t, 1 / cos_two_theta(edges[59], 0.154) - 1),
            1.2);  // the correction itself is large
  EXPECT_LT((ratio.array() - 1).abs().maxCoeff(), 1e-3);
  RecordProperty("largest_difference", std::to_string((ratio.array() - 1).abs().maxCoeff()));
}

TEST(AbsoluteCurve, SaysWhatIsMissingAndRefusesWhatIsWrong) {
  const Curve c = curve_on_bins(log_edges(0.1, 2.0, 20), cell, 0.03);
  const Absolute a = absolute_curve({"Z-41", c, {}});
  EXPECT_EQ(a.curve.unit, IntensityUnit::relative);
  EXPECT_HOLDS(a.notes.at(0), "'Z-41' has no transmission");
  EXPECT_HOLDS(a.notes.at(1), "the intensity is relative");
  EXPECT_HOLDS(message<InputError>([&] {
                 absolute_curve({"Z-41", c, Factor{1.34, {{"x", 0.01}}}});
               }),
               "1.34 (u = 0.01) for 'Z-41'");
  EXPECT_HOLDS(message<InputError>([&] {
                 absolute_curve({"Z-41", c, {}}, {}, {.thickness_mm = 0.0});
               }),
               "thickness of 'Z-41' is 0 mm");
  EXPECT_HOLDS(message<InputError>([&] {
                 absolute_curve({"Z-41", c, {}}, {}, {.absolute_scale = Factor{-1.0, {}}});
               }),
               "the absolute scale of 'Z-41' is -1");
}

// Source: equations.md, powders: thickness and transmission are one cause, relative effect (1 + 1/ln T) u(T)/T, zero
// at T = 1/e.
TEST(AbsoluteCurve, OfAPowderNeedsNoThickness) {
  const Curve c = curve_on_bins(log_edges(0.1, 2.0, 20), pores, 0.03);
  const double t = 0.5, u = 0.01, mu = 36.0;
  AbsoluteOptions o{.absolute_scale = Factor{2.0, {}}};
  o.powder = PowderMass{{}, Factor{mu, {{"mass attenuation: SiO2", 0.02 * mu}}}, {}};
  const Absolute a = absolute_curve({"p", c, Factor{t, {{"transmission: p", u}}}}, {}, o);
  EXPECT_EQ(a.curve.unit, IntensityUnit::cm2_per_g);
  const VectorXd expected = 2.0 * c.intensity / t / (-std::log(t) / mu);
  EXPECT_TRUE(a.curve.intensity.isApprox(expected, 1e-13));
  EXPECT_TRUE(a.curve.causes.at("transmission: p").u.isApprox(-expected * (1 + 1 / std::log(t)) * u / t, 1e-12));
  EXPECT_TRUE(a.curve.causes.at("mass attenuation: SiO2").u.isApprox(0.02 * expected, 1e-12));
  const Absolute best = absolute_curve({"p", c, Factor{std::exp(-1.0), {{"transmission: p", u}}}}, {}, o);
  EXPECT_LT(best.curve.causes.at("transmission: p").u.norm(), 1e-12 * best.curve.intensity.norm());
  // With a density per volume again: as thick as m_A / rho.
  o.powder->density_g_per_cm3 = Factor{0.8, {}};
  const Absolute v = absolute_curve({"p", c, Factor{t, {}}}, {}, o);
  EXPECT_EQ(v.curve.unit, IntensityUnit::per_cm);
  EXPECT_NEAR(v.path_mm, 10 * -std::log(t) / mu / 0.8, 1e-12);
  const Absolute d =
      absolute_curve({"p", c, Factor{t, {}}}, {}, {.thickness_mm = v.path_mm, .absolute_scale = Factor{2.0, {}}});
  EXPECT_TRUE(v.curve.intensity.isApprox(d.curve.intensity, 1e-12));
  // Weighed.
  o.powder = PowderMass{Factor{0.02, {}}, {}, {}};
  EXPECT_TRUE(
      absolute_curve({"p", c, Factor{t, {}}}, {}, o).curve.intensity.isApprox(2 * c.intensity / t / 0.02, 1e-13));
  o.powder = PowderMass{{}, Factor{mu, {}}, {}};
  EXPECT_HOLDS(message<InputError>([&] {
                 absolute_curve({"p", c, {}}, {}, o);
               }),
               "mass per area of 'p' needs the transmission");
}

TEST(AbsoluteCurve, LeavesOutWhatIsSwitchedOff) {
  const Curve c = curve_on_bins(log_edges(0.1, 2.0, 20), pores, 0.03),
              b = curve_on_bins(log_edges(0.1, 2.0, 20), cell, 0.03);
  AbsoluteOptions o{.thickness_mm = 2.0, .absolute_scale = Factor{3.0, {}}};
  o.off = {StepKind::transmission, StepKind::background, StepKind::thickness};
  const Absolute a = absolute_curve({"s", c, Factor{0.5, {}}}, Measured{"b", b, Factor{0.8, {}}}, o);
  EXPECT_TRUE(a.curve.intensity.isApprox(3.0 * c.intensity, 1e-14));
  for (const int i : {0, 1, 3}) EXPECT_EQ(a.steps[static_cast<std::size_t>(i)].note, switched_off_words);
  EXPECT_EQ(a.curve.unit, IntensityUnit::relative);
}

TEST(Dispersant, IsTakenWithItsShareAndStaysInTheChain) {
  Absolute a;
  a.curve = curve_on_bins(log_edges(0.1, 2.0, 20), pores, 0.03);
  a.steps = absolute_curve({"s", a.curve, {}}).steps;
  const Curve w = curve_on_bins(log_edges(0.1, 2.0, 20), cell, 0.03);
  const Absolute net = dispersant(a, w, {0.9, {{"dispersant share: s", 0.01}}}, "water");
  EXPECT_TRUE(net.curve.intensity.isApprox(a.curve.intensity - 0.9 * w.intensity, 1e-14));
  EXPECT_TRUE(net.curve.causes.at("dispersant share: s").u.isApprox(-0.01 * w.intensity, 1e-14));
  EXPECT_EQ(net.steps.size(), a.steps.size());
  EXPECT_TRUE(net.steps.back().applied);
  EXPECT_NEAR(net.steps.back().factor_low, net.curve.intensity[0] / a.curve.intensity[0], 1e-14);
  EXPECT_HOLDS(message<InputError>([&] {
                 dispersant(a, w, Factor{1.2, {}}, "water");
               }),
               "share of the dispersant 'water' is 1.2");
  Curve absolute = w;
  absolute.unit = IntensityUnit::per_cm;
  EXPECT_HOLDS(message<InputError>([&] {
                 dispersant(a, absolute, Factor{0.9, {}}, "water");
               }),
               "relative and its dispersant 'water' in 1/cm");
}

}  // namespace
}  // namespace sievelight
