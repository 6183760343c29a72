// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/average.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/base/units.hpp"

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::VectorXd;

struct Scene {
  DetectorGeometry geometry = small_detector();
  PixelMap map;
  VectorXd edges;
  AverageOptions options;

  explicit Scene(int bins = 30) : map(pixel_map(geometry, 60, 70)), edges(make_bins(map, {}, {.bins = bins})) {}
  Image weight() const { return map.solid_angle_sr() * polarisation(map, 0.5); }
};

// The detector is tilted by 25 and -15 degrees, and every correction is on: what an isotropic scatterer sends must come
// out flat, to rounding.
TEST(Average, MakesAnIsotropicScattererFlatOnATiltedDetector) {
  Scene s;
  s.geometry.distance_mm = 60;
  s.geometry.yaw_rad = radians(25);
  s.geometry.pitch_rad = radians(-15);
  s.map = pixel_map(s.geometry, 60, 70);
  s.options.corrections.sensor = Absorber{30.0, 0.45};
  s.options.corrections.flight_path = {Absorber{0.012, 60.0}};
  s.options.corrections.polarization_fraction = 0.9;
  const VectorXd edges = make_bins(s.map, {}, {.bins = 40});
  Frame frame;
  frame.counts = Image(60, 70);
  frame.exposure_s = 3.0;
  for (Eigen::Index i = 0; i < frame.counts.size(); ++i)  // the closed forms, written out once more
    frame.counts.data()[i] = 3.0 * 7e5 * s.map.solid_angle_sr(i) *
                             (1 - std::exp(-1.35 / s.map.cos_incidence.data()[i])) *
                             std::exp(-0.072 / cos_of_q(s.map.q_per_nm.data()[i], s.map.wavelength_nm));
  frame.counts *= polarisation(s.map, 0.9);
  const Averaged a = average({&frame}, s.map, {}, edges, s.options);
  for (Eigen::Index i = 0; i < a.curve.size(); ++i) EXPECT_NEAR(a.curve.intensity[i] / 7e5, 1.0, 1e-12);
}

// Source: Poisson statistics. 2000 frames of 6 bins at 0.1, 1 and 10 counts a bin: the mean of S is known to
// 1/sqrt(2000 * 6 * counts); limits are 4 standard deviations.
TEST(Average, IsUnbiasedAtAnyCount) {
  Scene s(6);
  const Averager averager(s.map, {}, s.edges, s.options);
  std::mt19937_64 random(11);
  for (const double per_bin : {0.1, 1.0, 10.0}) {
    const Image weight = s.weight();
    const double level = per_bin * 6 / weight.sum();
    const Frame expected = expected_frame(s.map, weight, 1.0, [&](double) { return level; });
    const int repeats = 2000;
    double mean = 0;
    for (int r = 0; r < repeats; ++r) {
      const Frame frame = poisson_frame(expected, random);
      const Averaged a = averager.average({&frame});
      mean += (a.curve.intensity.array() * a.normalisation.array()).sum() / a.normalisation.sum() / level / repeats;
    }
    const double sd = 1 / std::sqrt(repeats * per_bin * 6);
    EXPECT_NEAR(mean, 1.0, 4 * sd);
  }
}

TEST(Average, WeightsFromCountsPullAnEstimateDown) {
  Scene s(1);
  const Image weight = s.weight();
  const Averager averager(s.map, {}, s.edges, s.options);
  std::mt19937_64 random(12);
  const double level = 10.0 / weight.mean();  // 10 counts a pixel, 4200 pixels: sd of S is 0.5 %
  const Frame frame = poisson_frame(expected_frame(s.map, weight, 1.0, [&](double) { return level; }), random);
  double top = 0, bottom = 0;
  for (Eigen::Index i = 0; i < weight.size(); ++i) {
    const double n = frame.counts.data()[i], h = weight.data()[i], variance = std::max(n, 1.0) / (h * h);
    top += n / h / variance;
    bottom += 1 / variance;
  }
  const double sd = 1 / std::sqrt(42000.0);
  EXPECT_NEAR(averager.average({&frame}).curve.intensity[0] / level, 1.0, 4 * sd);
  // E[1/N] of Poisson 10 gives 1/(10 E[1/N]) = 0.89: biased low by a tenth, twenty standard deviations.
  EXPECT_LT(top / bottom / level, 0.92);
}

// Share of 68 % intervals S +- u that hold the truth. Poisson counts are whole numbers, so the share of any one mean
// swings by +-7 %; means are spread over a factor of two and averaged. 500 frames x 40 bins: sampling error 0.3 %.
TEST(Average, CoversTheTruthInTwoThirdsOfCases) {
  Scene s(40);
  const Averager averager(s.map, {}, s.edges, s.options);
  std::mt19937_64 random(13);
  const Image weight = s.weight();
  const Frame base = expected_frame(s.map, weight, 1.0, [](double) { return 1.0; });
  VectorXd per_bin = averager.average({&base}).normalisation;
  for (const double low : {5.0, 10.0, 100.0}) {
    // The point i gets a mean of low (1 + i/40) counts.
    Frame expected = base;
    for (Eigen::Index i = 0; i < weight.size(); ++i) {
      const int k = averager.table().index.data()[i];
      Eigen::Index point = 0;  // bins without pixels are missing from the curve
      for (int b = 0; b < k; ++b) point += averager.table().pixels[b] > 0;
      expected.counts.data()[i] =
          k < 0 ? 0.0 : weight.data()[i] * low * (1 + static_cast<double>(point) / 40) / per_bin[point];
    }
    int inside = 0, all = 0;
    for (int r = 0; r < 500; ++r) {
      const Frame frame = poisson_frame(expected, random);
      const Averaged a = averager.average({&frame});
      for (Eigen::Index i = 0; i < a.curve.size(); ++i) {
        const double truth = low * (1 + static_cast<double>(i) / 40) / per_bin[i];
        inside += std::abs(a.curve.intensity[i] - truth) <= a.curve.private_u[i];
        ++all;
      }
    }
    const double share = static_cast<double>(inside) / all;
    EXPECT_GT(share, 0.65) << low;
    EXPECT_LT(share, 0.72) << low;
  }
}

TEST(Average, SubtractsTheDarkByTimeAndKeepsItAsACommonCause) {
  Scene s(15);
  const Averager averager(s.map, {}, s.edges, s.options);
  const Image weight = s.weight();
  Frame dark = expected_frame(s.map, Image::Constant(60, 70, 2.0), 50.0, [](double) { return 1.0; });  // 2 counts/s
  Frame frame = expected_frame(s.map, weight, 10.0, [](double) { return 3e4; });
  frame.counts += 2.0 * 10.0;
  const Averaged a = averager.average({&frame}, {.name = "s", .dark = &dark, .dark_name = "night"});
  const Cause& cause = a.curve.causes.at("dark counts: night");
  EXPECT_EQ(cause.kind, CauseKind::pointwise);
  for (Eigen::Index i = 0; i < a.curve.size(); ++i) {
    EXPECT_NEAR(a.curve.intensity[i], 3e4, 1e-8);
    EXPECT_NEAR(cause.u[i], -0.2 * std::sqrt(100.0 * a.pixels[i]) / a.normalisation[i], 1e-9 * std::abs(cause.u[i]));
    EXPECT_NEAR(a.curve.private_u[i], std::sqrt(a.counts[i]) / a.normalisation[i], 1e-12 * a.curve.private_u[i]);
  }
}

// Monte Carlo of sample and dark counts: the scatter of S agrees with private and pointwise causes together.
TEST(Average, VarianceWithDarkIsThatOfRepeatedMeasurements) {
  Scene s(5);
  const Averager averager(s.map, {}, s.edges, s.options);
  const Image weight = s.weight();
  const Frame dark = expected_frame(s.map, Image::Constant(60, 70, 0.3), 5.0, [](double) { return 1.0; });
  Frame frame = expected_frame(s.map, weight, 10.0, [](double) { return 2e4; });
  frame.counts += 0.3 * 10.0;
  std::mt19937_64 random(14);
  const int repeats = 1500;
  VectorXd sum, square, claimed;
  for (int r = 0; r < repeats; ++r) {
    const Frame d = poisson_frame(dark, random), f = poisson_frame(frame, random);
    const Averaged a = averager.average({&f}, {.dark = &d});
    const VectorXd variance = pointwise_u(a.curve).array().square();
    if (r == 0) sum = square = claimed = VectorXd::Zero(a.curve.size());
    sum += a.curve.intensity;
    square += a.curve.intensity.cwiseAbs2();
    claimed += variance / repeats;
  }
  const VectorXd variance = square / repeats - (sum / repeats).cwiseAbs2();
  // A sample variance of 1500 is known to sqrt(2/1500) = 3.7 %; 4 of it. The first bin holds fewer than ten counts of
  // dark, where N + 1 is too large on purpose.
  EXPECT_LT(variance[0] / claimed[0], 1.0);
  for (Eigen::Index i = 1; i < variance.size(); ++i) EXPECT_NEAR(variance[i] / claimed[i], 1.0, 4 * 0.037);
}

TEST(Average, CorrectsDeadTimePerExposureUnlessTheFileDid) {
  Scene s(10);
  s.options.corrections.dead_time = DeadTime{1e-6, DeadTimeModel::non_paralyzable};
  const Averager averager(s.map, {}, s.edges, s.options);
  const Image weight = s.weight();
  const double level = 2e5 / weight.mean();  // n tau about 0.2
  const auto recorded = [&](double exposure, double brightness) {
    Frame f = expected_frame(s.map, weight, 1.0, [&](double) { return level * brightness; });
    f.counts = f.counts.unaryExpr([](double n) { return n / (1 + n * 1e-6); }) * exposure;
    f.exposure_s = exposure;
    return f;
  };
  const Frame bright = recorded(1.0, 1.5), dim = recorded(3.0, 0.5);  // the beam fell in between
  const Averaged both = averager.average({&bright, &dim});
  for (Eigen::Index i = 0; i < both.curve.size(); ++i)
    EXPECT_NEAR(both.curve.intensity[i] / level, (1.5 * 1 + 0.5 * 3) / 4, 1e-12);
  EXPECT_EQ(both.exposure_s, 4.0);

  Frame sum = bright;
  sum.counts += dim.counts;
  sum.exposure_s = 4.0;
  sum.exposures = 2;
  EXPECT_HOLDS(message<InputError>([&] { averager.average({&sum}, {.name = "A"}); }),
               "is a sum of exposures (2 in 1 frames)");

  sum.metadata.countrate_correction_applied = true;
  const Averaged done = averager.average({&sum});
  EXPECT_NEAR(done.curve.intensity[0] * done.normalisation[0], done.counts[0], 1e-6);
  ASSERT_FALSE(done.notes.empty());
  EXPECT_HOLDS(done.notes[0], "the file says its counts are corrected already");
  EXPECT_FALSE(done.steps[2].applied);
}

TEST(Average, DoesNotApplyAFlatFieldTwice) {
  Scene s(10);
  s.options.corrections.flat_field = FlatField{"flat", Image::Ones(60, 70), {}};
  s.options.corrections.flat_field->response.leftCols(30) = 2.0;
  Frame frame = expected_frame(s.map, s.weight(), 1.0, [](double) { return 1e6; });
  frame.metadata.flatfield_applied = true;
  const Averaged a = average({&frame}, s.map, {}, s.edges, s.options);
  EXPECT_NEAR(a.curve.intensity[3], 1e6, 1e-6);
  EXPECT_HOLDS(a.notes.back(), "flat field not applied");
  EXPECT_HOLDS(message<InputError>([&] { Averager(s.map, {}, s.edges, s.options).average({&frame}); }),
               "corrected already");
}

// One flat field for many frames: its counts move S by the same amounts in each; checked by drawing flat fields.
TEST(Average, CountsOfTheFlatFieldAreAPointwiseCause) {
  Scene s(4);
  const Frame light = expected_frame(s.map, Image::Ones(60, 70), 1.0, [](double) { return 400.0; });
  const Frame frame = expected_frame(s.map, s.weight(), 1.0, [](double) { return 1e6; });
  std::mt19937_64 random(15);
  const int repeats = 600;
  VectorXd sum, square, claimed;
  for (int r = 0; r < repeats; ++r) {
    s.options.corrections.flat_field = flat_field_from_counts(poisson_frame(light, random), "lamp");
    const Averaged a = average({&frame}, s.map, {}, s.edges, s.options);
    if (r == 0) sum = square = claimed = VectorXd::Zero(a.curve.size());
    sum += a.curve.intensity;
    square += a.curve.intensity.cwiseAbs2();
    claimed += a.curve.causes.at("flat field: lamp").u.cwiseAbs2() / repeats;
  }
  const VectorXd variance = square / repeats - (sum / repeats).cwiseAbs2();
  // The response is brought to mean 1, which removes up to the bin's share of the pixels from the variance (the last
  // bin holds half of them); bins with few pixels keep theirs to 4 sqrt(2/600).
  EXPECT_NEAR(variance[0] / claimed[0], 1.0, 4 * std::sqrt(2.0 / repeats) + 0.05);
  EXPECT_LT(variance[variance.size() - 1], 1.25 * claimed[variance.size() - 1]);
}

TEST(Average, ScattersAsCountsAllowAndShowsWhatIsNotCounts) {
  Scene s(20);
  const Averager averager(s.map, {}, s.edges, s.options);
  std::mt19937_64 random(16);
  const Image weight = s.weight();
  double mean = 0;
  int n = 0;
  for (int r = 0; r < 200; ++r) {
    const Frame f =
        poisson_frame(expected_frame(s.map, weight, 1.0, [&](double) { return 0.5 / weight.mean(); }), random);
    const Averaged a = averager.average({&f});
    for (Eigen::Index i = 0; i < a.curve.size(); ++i)
      if (a.pixels[i] > 50) {
        mean += a.scatter_ratio[i];
        ++n;
      }
  }
  // Half a count a pixel: var of the ratio is about (2 + 1/0.5)/pixels; over the 200 frames the mean is known to 1 %.
  EXPECT_NEAR(mean / n, 1.0, 0.02);
  Frame spot = expected_frame(s.map, weight, 1.0, [&](double) { return 100 / weight.mean(); });
  spot.counts(5, 5) += 5000;  // a crystal's reflection
  const Averaged a = averager.average({&spot});
  const int k = averager.table().index(5, 5);
  for (Eigen::Index i = 0; i < a.curve.size(); ++i) {
    if (a.bin[i] == k) {
      EXPECT_GT(a.scatter_ratio[i], 10.0);
    } else if (a.pixels[i] > 1) {
      EXPECT_LT(a.scatter_ratio[i], 0.01);  // noiseless: less than counts would scatter
    }
  }
}

TEST(Average, NormalisesByTheMonitorAndCarriesItsUncertainty) {
  Scene s(10);
  const Averager averager(s.map, {}, s.edges, s.options);
  Frame frame = expected_frame(s.map, s.weight(), 5.0, [](double) { return 1e6; });
  frame.monitor = 2e4;
  const Averaged a =
      averager.average({&frame}, {.name = "A", .normalise_by = NormaliseBy::monitor, .normalise_relative_u = 0.01});
  EXPECT_NEAR(a.curve.intensity[4], 5e6 / 2e4, 1e-9);
  EXPECT_NEAR(a.curve.causes.at("monitor: A").u[4], -0.01 * 250, 1e-9);
  const Averaged b = averager.average({&frame}, {.name = "A", .flux_per_s = 1e3, .flux_relative_u = 0.03});
  EXPECT_NEAR(b.curve.intensity[4], 1e3, 1e-9);
  EXPECT_NEAR(b.curve.causes.at("flux").u[4], -30, 1e-9);
  frame.exposure_s = NAN;  // a monitor needs no exposure
  EXPECT_NO_THROW(averager.average({&frame}, {.normalise_by = NormaliseBy::monitor}));
  frame.monitor.reset();
  EXPECT_HOLDS(
      message<InputError>([&] { averager.average({&frame}, {.name = "A", .normalise_by = NormaliseBy::monitor}); }),
      "the frame of 'A' has no monitor reading");
}

TEST(Average, DropsEmptyBinsAndListsThemAndTheFewCounts) {
  Scene s;
  const VectorXd edges = log_edges(1e-3, 3.0, 60);
  Frame frame = expected_frame(s.map, Image::Zero(60, 70), 1.0, [](double) { return 1.0; });
  const Averaged a = average({&frame}, s.map, {}, edges, s.options);
  EXPECT_EQ(a.curve.size() + static_cast<Eigen::Index>(a.empty_bins.size()), 60);
  EXPECT_EQ(a.few_count_bins.size(), static_cast<std::size_t>(a.curve.size()));
  EXPECT_EQ(a.curve.intensity[0], 0.0);
  EXPECT_NEAR(a.curve.private_u[0], 1 / a.normalisation[0], 1e-12 / a.normalisation[0]);  // zero counts: u of one count
  EXPECT_NO_THROW(check(a.curve));
}

TEST(Average, AMaskInsideTheFrameLeavesTheRestUnchanged) {
  Scene s(20);
  const Averager averager(s.map, {}, s.edges, s.options);
  Frame frame = expected_frame(s.map, s.weight(), 1.0, [](double) { return 1e6; });
  frame.masked.topRows(9).setConstant(true);
  frame.counts.topRows(9).setConstant(-1);
  const Averaged a = averager.average({&frame});
  int pixels = 0;
  for (Eigen::Index i = 0; i < a.curve.size(); ++i) {
    EXPECT_NEAR(a.curve.intensity[i], 1e6, 1e-6);
    pixels += a.pixels[i];
  }
  EXPECT_EQ(pixels, 51 * 70);
  frame.masked.setConstant(true);
  EXPECT_HOLDS(message<InputError>([&] { averager.average({&frame}, {.name = "A"}); }),
               "the masks of 'A' hide every one of the 4200 pixels");
}

TEST(Average, IsTheSameForOneLongAndManyShortExposures) {
  Scene s(20);
  const Averager averager(s.map, {}, s.edges, s.options);
  std::mt19937_64 random(17);
  std::vector<Frame> frames;
  for (int i = 0; i < 5; ++i)
    frames.push_back(poisson_frame(expected_frame(s.map, s.weight(), 1.0 + i, [](double) { return 3e4; }), random));
  frames[2].masked(8, 8) = true;
  Frame sum = frames[0];
  for (int i = 1; i < 5; ++i) {
    sum.counts += frames[i].counts;
    sum.exposure_s += frames[i].exposure_s;
    sum.masked = sum.masked || frames[i].masked;
  }
  const Averaged one = averager.average({&sum});
  const Averaged many = averager.average({&frames[0], &frames[1], &frames[2], &frames[3], &frames[4]});
  EXPECT_TRUE(one.curve.intensity.isApprox(many.curve.intensity, 1e-14));
  EXPECT_TRUE(one.curve.private_u.isApprox(many.curve.private_u, 1e-14));
  EXPECT_EQ(one.curve.q_per_nm, many.curve.q_per_nm);
}

TEST(Average, RefusesWhatDoesNotFitTogether) {
  Scene s(10);
  const Averager averager(s.map, {}, s.edges, s.options);
  const Frame good = expected_frame(s.map, s.weight(), 1.0, [](double) { return 1e6; });
  Frame frame = good;
  frame.counts = Image::Zero(70, 60);
  const std::string size = message<InputError>([&] { averager.average({&frame}, {.name = "Z-41"}); });
  EXPECT_HOLDS(size, "the frame of 'Z-41' has 70 x 60");
  EXPECT_HOLDS(size, "the pixel map has 60 x 70");
  frame = good;
  frame.exposure_s = NAN;
  EXPECT_HOLDS(message<InputError>([&] { averager.average({&frame}, {.name = "Z-41"}); }), "'Z-41' has no exposure");
  frame.exposure_s = -2;
  EXPECT_HOLDS(message<InputError>([&] { averager.average({&frame}, {.name = "Z-41"}); }),
               "exposure of the frame of 'Z-41' is -2 s");
  Frame dark = good;
  dark.counts = Image::Zero(5, 6);
  EXPECT_HOLDS(message<InputError>([&] { averager.average({&good}, {.dark = &dark, .dark_name = "night"}); }),
               "the dark frame 'night' has 5 x 6");
  dark = good;
  dark.exposure_s = NAN;
  EXPECT_HOLDS(message<InputError>([&] { averager.average({&good}, {.dark = &dark, .dark_name = "night"}); }),
               "the dark frame 'night' has no exposure");
  EXPECT_HOLDS(message<InputError>([&] { averager.average({}); }), "has no frame");
}

}  // namespace
}  // namespace sievelight
