// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/direct_beam_scale.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/reduce/average.hpp"
#include "sievelight/reduce/background.hpp"

namespace sievelight {
namespace {

using namespace synthetic;

// Closed chain: photons through air and sensor into the direct-beam frame and into the scattering; the absolute
// intensity must come back to rounding, and what air and sensor have in common cancels straight on.
TEST(DirectBeamScale, BringsBackTheIntensityPutIn) {
  const DetectorGeometry g = small_detector();
  const PixelMap map = pixel_map(g, 60, 70);
  const double flux = 2e7, attenuator = 1e-3, truth = 12.5, d = 0.1;
  Corrections c;
  c.sensor = Absorber{30.0, 0.45, 0.02, {}};
  c.flight_path = {Absorber{0.012, 60.0, 0.1, "air"}};
  const double straight = (1 - std::exp(-1.35)) * std::exp(-0.072);
  Frame beam = expected_frame(map, Image::Zero(60, 70), 10.0, [](double) { return 0.0; });
  beam.counts(28, 31) = flux * 10.0 * attenuator * straight;
  beam.monitor = 500.0;
  const DirectBeamOptions o{
      .beam_center_x_px = 31.3, .beam_center_y_px = 27.8, .radius_px = 4.0, .attenuator = {attenuator, 2e-5}};
  const AbsoluteScale k = scale_from_direct_beam("beam", beam, o, c);
  EXPECT_NEAR(k.factor.value, 1 / flux, 1e-12 / flux);
  EXPECT_NEAR(k.factor.causes.at("attenuator: beam") * flux, 0.02, 1e-9);
  EXPECT_NEAR(k.factor.causes.at("absolute scale: counts") * flux, -1 / std::sqrt(beam.counts.sum()), 1e-12);

  Image weight = map.solid_angle_sr() * polarisation(map, 0.5);
  for (Eigen::Index i = 0; i < weight.size(); ++i)
    weight.data()[i] *= (1 - std::exp(-1.35 / map.cos_incidence.data()[i])) *
                        std::exp(-0.072 / cos_of_q(map.q_per_nm.data()[i], map.wavelength_nm));
  const Frame frame = expected_frame(map, weight, 60.0, [&](double) { return flux * truth * d; });
  AverageOptions options;
  options.corrections = c;
  const Averaged a = average({&frame}, map, {}, make_bins(map, {}, {.bins = 20}), options);
  const Absolute result =
      absolute_curve({"s", a.curve, Factor{1.0, {}}}, {}, {.thickness_mm = 1.0, .absolute_scale = k.factor});
  EXPECT_LT((result.curve.intensity.array() / truth - 1).abs().maxCoeff(), 1e-12);
  // 2 % of mu t on the sensor is 0.9 % straight on; at the smallest angle all but its obliquity has cancelled.
  EXPECT_LT(std::abs(result.curve.causes.at("sensor efficiency").u[0]) / truth, 1e-4);
  EXPECT_GT(std::abs(a.curve.causes.at("sensor efficiency").u[0]) / a.curve.intensity[0], 5e-3);

  // Askew by 10 degrees the sensor is thicker to the beam, so the same counts are fewer photons and k is larger.
  DirectBeamOptions askew = o;
  askew.cos_incidence = std::cos(0.1745);
  EXPECT_NEAR(scale_from_direct_beam("beam", beam, askew, c).factor.value * flux,
              (1 - std::exp(-1.35 / std::cos(0.1745))) / (1 - std::exp(-1.35)), 1e-12);
  askew.cos_incidence = 0.0;
  EXPECT_HOLDS(message<InputError>([&] { scale_from_direct_beam("beam", beam, askew, c); }), "cosine of 0");

  const AbsoluteScale by_monitor = scale_from_direct_beam("beam", beam, o, c, true);
  EXPECT_NEAR(by_monitor.factor.value, 50.0 / flux, 1e-12);
  beam.monitor.reset();
  EXPECT_HOLDS(message<InputError>([&] { scale_from_direct_beam("beam", beam, o, c, true); }), "'beam' has no monitor");
}

}  // namespace
}  // namespace sievelight
