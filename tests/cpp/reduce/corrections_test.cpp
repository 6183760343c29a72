// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/corrections.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/reduce/plate.hpp"

#include <set>

namespace sievelight {
namespace {

using namespace synthetic;

TEST(Corrections, StandInTheirDeclaredOrderWithEquationAndSource) {
  const std::vector<Step>& steps = reduction_steps();
  std::set<std::string> names;
  for (std::size_t i = 0; i < steps.size(); ++i) {
    EXPECT_EQ(static_cast<std::size_t>(steps[i].kind), i);  // the enumeration is the order
    EXPECT_FALSE(steps[i].equation.empty());
    EXPECT_FALSE(steps[i].parameters.empty());
    EXPECT_FALSE(steps[i].uncertainty.empty());
    EXPECT_FALSE(steps[i].source.empty());
    names.insert(steps[i].name);
  }
  EXPECT_EQ(names.size(), steps.size());
  EXPECT_EQ(step(StepKind::solid_angle).name, "solid angle");
}

TEST(Corrections, MultiplyToTheNormalisationOfAPixel) {
  DetectorGeometry g = small_detector();
  g.distance_mm = 60;  // large angles
  g.yaw_rad = radians(8);
  const PixelMap map = pixel_map(g, 60, 70);
  std::mt19937_64 random(4);
  std::uniform_real_distribution<double> response(0.8, 1.2);
  Corrections c;
  c.sensor = Absorber{30.0, 0.45, 0.02};
  c.flight_path = {Absorber{0.01, 60.0, 0.1, "air"}, Absorber{1.2, 0.1, 0.0, "window"}};
  c.polarization_fraction = 0.8;
  c.polarization_u = 0.05;
  c.polarization_plane_deg = 20;
  c.flat_field = FlatField{"flat", Image(60, 70), {}};
  for (double& x : c.flat_field->response.reshaped()) x = 7 * response(random);
  const BinTable table = bin_table(map, usable_mask(map, {}, c), make_bins(map, {}, {.bins = 20}));
  const Normalisation n = normalisation(map, table, c, {2, 10, 19});
  const double mean = c.flat_field->response.mean();
  for (Eigen::Index row : {0, 20, 59})
    for (Eigen::Index column : {0, 33, 69}) {
      const double cosine = map.cos_two_theta()(row, column), azimuth = map.azimuth_rad(row, column) - radians(20);
      const double sine2 = 1 - cosine * cosine;
      const double p =
          0.8 * (1 - sine2 * std::pow(std::cos(azimuth), 2)) + 0.2 * (1 - sine2 * std::pow(std::sin(azimuth), 2));
      const double expected = map.solid_angle_sr()(row, column) * p * std::exp(-0.072 / cosine) *
                              (1 - std::exp(-1.35 / map.cos_incidence(row, column))) *
                              c.flat_field->response(row, column) / mean;
      EXPECT_NEAR(n.per_pixel(row, column), expected, 1e-13 * expected);
    }
  ASSERT_EQ(n.effects.size(), 5u);
  EXPECT_EQ(n.effects[0].name, "flat field");
  EXPECT_EQ(n.effects[3].name, "solid angle");
  EXPECT_GT(n.effects[3].factor_high, n.effects[3].factor_low);  // far pixels see less, so they are raised more
  EXPECT_NEAR(n.effects[2].factor_high, std::exp(0.072 * (1 / cos_two_theta(table.mean_q_per_nm[19], 0.154) - 1)),
              1e-4);
  EXPECT_TRUE(n.effects[4].applied);
  EXPECT_EQ(n.effects[4].relative_u_low, std::abs(n.causes.back().relative[2]));
}

// Source: differences of the whole normalisation, error h^2.
TEST(Corrections, CarryTheUncertaintyOfEveryParameterToTheBins) {
  DetectorGeometry g = small_detector();
  g.distance_mm = 60;
  const PixelMap map = pixel_map(g, 60, 70);
  const BinTable table = bin_table(map, {}, make_bins(map, {}, {.bins = 12}));
  const double u_sensor = 0.02, u_air = 0.1, u_f = 0.05;
  const auto at = [&](double sensor, double air, double f) {
    Corrections c;
    c.sensor = Absorber{30.0 * (1 + sensor), 0.45, u_sensor};
    c.flight_path = {Absorber{0.05, 60.0 * (1 + air), u_air, "air"}};
    c.polarization_fraction = 0.8 + f;
    c.polarization_u = u_f;
    return normalisation(map, table, c, {0, 6, 11});
  };
  const auto sums = [&](const Normalisation& n) {
    Eigen::VectorXd out = Eigen::VectorXd::Zero(12);
    for (Eigen::Index i = 0; i < n.per_pixel.size(); ++i)
      if (table.index.data()[i] >= 0) out[table.index.data()[i]] += n.per_pixel.data()[i];
    return out;
  };
  const Normalisation n = at(0, 0, 0);
  ASSERT_EQ(n.causes.size(), 3u);
  const double h = 1e-4;
  const std::vector<std::pair<std::string, Eigen::VectorXd>> expected{
      {"sensor efficiency", u_sensor * (sums(at(h, 0, 0)) - sums(at(-h, 0, 0))) / (2 * h)},
      {"flight path: air", u_air * (sums(at(0, h, 0)) - sums(at(0, -h, 0))) / (2 * h)},
      {"polarisation", u_f * (sums(at(0, 0, h)) - sums(at(0, 0, -h))) / (2 * h)}};
  for (std::size_t k = 0; k < 3; ++k) {
    EXPECT_EQ(n.causes[k].id, expected[k].first);
    const Eigen::VectorXd relative = expected[k].second.cwiseQuotient(sums(n));
    EXPECT_LT((n.causes[k].relative - relative).cwiseAbs().maxCoeff(), 1e-8);
  }
  // What a ray straight on meets moves under the same ids.
  Corrections c;
  c.sensor = Absorber{30.0, 0.45, u_sensor};
  c.flight_path = {Absorber{0.05, 60.0, u_air, "air"}};
  const Factor forward = forward_response(c);
  EXPECT_NEAR(forward.value, (1 - std::exp(-1.35)) * std::exp(-0.3), 1e-14);
  EXPECT_NEAR(forward.causes.at("flight path: air"), -0.3 * u_air * forward.value, 1e-14);
  EXPECT_NEAR(forward.causes.at("sensor efficiency"), u_sensor * 1.35 / std::expm1(1.35) * forward.value, 1e-14);
}

TEST(Corrections, ArePutOffByNameButNotAllOfThem) {
  EXPECT_EQ(step_to_switch_off("polarisation"), StepKind::polarisation);
  EXPECT_HOLDS(message<InputError>([] { step_to_switch_off("counts"); }), "'counts' cannot be switched off");
  EXPECT_HOLDS(message<InputError>([] { step_to_switch_off("polish"); }), "The steps: dead time, dark");
}

TEST(Corrections, StateWhatTheyAddRelativeToWhatIsLeft) {
  const std::vector<StepEffect> before{applied(StepKind::counts, "", {1, 1, 1}, {0.01, 0.02, 0.03})};
  const std::vector<StepEffect> after{applied(StepKind::background, "", {0.5, 0.25, 0.1}, {0.04, 0.04, 0.04}),
                                      applied(StepKind::thickness, "", {10, 10, 10}, {0.02, 0.02, 0.02})};
  const std::vector<StepEffect> chain = whole_chain(before, after);
  EXPECT_DOUBLE_EQ(chain[0].relative_u_low, 0.02);
  EXPECT_DOUBLE_EQ(chain[0].relative_u_high, 0.3);
  EXPECT_EQ(chain[1].relative_u_high, 0.04);
  EXPECT_EQ(chain[2].relative_u_low, 0.02);
}

TEST(Corrections, SayWhyTheyAreLeftOut) {
  const PixelMap map = pixel_map(small_detector(), 60, 70);
  const BinTable table = bin_table(map, {}, make_bins(map, {}));
  Corrections c;
  c.off = {StepKind::solid_angle, StepKind::polarisation};
  const Normalisation n = normalisation(map, table, c, {0, 1, 2});
  EXPECT_TRUE((n.per_pixel == 1.0).all());
  for (const StepEffect& e : n.effects) {
    EXPECT_FALSE(e.applied);
    EXPECT_FALSE(e.note.empty());
    EXPECT_EQ(e.factor_low, 1.0);
  }
}

TEST(Corrections, LeaveOutPixelsWithoutFlatFieldResponse) {
  const PixelMap map = pixel_map(small_detector(), 60, 70);
  Corrections c;
  c.flat_field = FlatField{"flat", Image::Ones(60, 70), {}};
  c.flat_field->response(3, 4) = 0;
  c.flat_field->response(3, 5) = NAN;
  const Mask mask = usable_mask(map, {}, c);
  EXPECT_EQ(mask.count(), 2);
  EXPECT_TRUE(mask(3, 4) && mask(3, 5));
  const std::string text = message<InputError>([&] {
    c.flat_field->response = Image::Ones(70, 60);
    usable_mask(map, {}, c);
  });
  EXPECT_HOLDS(text, "the flat field 'flat' has 70 x 60");
  EXPECT_HOLDS(text, "60 x 70");
}

TEST(Corrections, MakeAFlatFieldFromTheCountsOfAnEvenSource) {
  const PixelMap map = pixel_map(small_detector(), 60, 70);
  Frame frame = expected_frame(map, map.solid_angle_sr(), 1.0, [](double) { return 1e9; });
  frame.masked(1, 1) = true;
  const FlatField flat = flat_field_from_counts(frame, "fluorescence", map.solid_angle_sr());
  EXPECT_EQ(flat.response(1, 1), 0.0);
  EXPECT_NEAR(flat.response(30, 30) / flat.response(0, 0), 1.0, 1e-14);
  EXPECT_NEAR(flat.relative_u(0, 0), 1 / std::sqrt(frame.counts(0, 0)), 1e-15);
}

TEST(Corrections, RefuseNegativeAbsorbers) {
  const PixelMap map = pixel_map(small_detector(), 60, 70);
  const BinTable table = bin_table(map, {}, make_bins(map, {}));
  Corrections c;
  c.sensor = Absorber{-1.0, 0.4};
  EXPECT_HOLDS(message<InputError>([&] { normalisation(map, table, c, {0, 1, 2}); }), "the sensor has mu = -1 1/cm");
  c.sensor = Absorber{0.0, 0.4};  // absorbs nothing: no pixel could count
  EXPECT_HOLDS(message<InputError>([&] {
                 normalisation(map, table, c, {0, 1, 2});
               }),
               "the step 'sensor efficiency' gives 0 at row 0, column 0");
}

}  // namespace
}  // namespace sievelight
