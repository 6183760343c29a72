// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/transmission.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/base/units.hpp"

namespace sievelight {
namespace {

using namespace synthetic;

TEST(Transmission, FromMonitorsIsARatioOfRatiosWithItsErrors) {
  const Transmission t = transmission_from_monitors("Z-41", {1000, 10}, {400, 2}, "air", {1100, 0}, {990, 9.9});
  EXPECT_NEAR(t.factor.value, (400.0 / 1000) / (990.0 / 1100), 1e-15);
  // Textbook: relative uncertainties of a quotient add in quadrature.
  EXPECT_NEAR(t.factor.causes.at("transmission: Z-41"), t.factor.value * std::hypot(0.01, 0.005), 1e-12);
  EXPECT_NEAR(t.factor.causes.at("empty beam: air"), -t.factor.value * 0.01, 1e-12);
  EXPECT_NEAR(t.u, t.factor.value * std::sqrt(0.01 * 0.01 + 0.005 * 0.005 + 0.01 * 0.01), 1e-12);
  EXPECT_HOLDS(t.method, "relative to the empty beam");
}

TEST(Transmission, ErrorsOfTheEmptyBeamCancelInTheRatioOfTwoSamples) {
  const Transmission a = transmission_from_monitors("a", {1000, 0}, {400, 0}, "air", {1000, 10}, {900, 9});
  const Transmission b = transmission_from_monitors("b", {1000, 0}, {700, 0}, "air", {1000, 10}, {900, 9});
  EXPECT_NEAR(divide(a.factor, b.factor).causes.at("empty beam: air"), 0.0, 1e-15);
}

TEST(Transmission, MayExceedOneByItsUncertaintyOnly) {
  EXPECT_NO_THROW(given_transmission("w", 1.02, 0.01));
  EXPECT_HOLDS(given_transmission("w", 1.02, 0.01).notes.at(0), "exceeds 1 within its uncertainty");
  const std::string text = message<InputError>([] { given_transmission("row 7: Z-41", 1.34, 0.01); });
  EXPECT_HOLDS(text, "the transmission is 1.34 (u = 0.01) for 'row 7: Z-41'");
  EXPECT_HOLDS(text, "not swapped");
  EXPECT_HOLDS(message<InputError>([] { given_transmission("w", 0.0, 0.1); }), "the transmission is 0 ");
  EXPECT_HOLDS(message<InputError>([] { given_transmission("w", 0.5, -0.1); }),
               "uncertainty of the transmission of 'w' is -0.1");
  EXPECT_HOLDS(message<InputError>([] {
                 transmission_from_monitors("s", {0, 0}, {1, 0}, "e", {1, 0}, {1, 0});
               }),
               "the incident intensity of 's' is 0");
  EXPECT_HOLDS(given_transmission("w", 0.5).notes.at(0), "no uncertainty was given");
}

// A Gaussian spot of 2 pixels sd around column 20, row 15.
Frame direct_beam(double rate, double exposure) {
  Frame f;
  f.counts = Image::Zero(40, 50);
  for (int y = 0; y < 40; ++y)
    for (int x = 0; x < 50; ++x)
      f.counts(y, x) = rate * exposure * std::exp(-((x - 20) * (x - 20) + (y - 15) * (y - 15)) / 8.0) / (8 * pi);
  f.masked = Mask::Constant(40, 50, false);
  f.exposure_s = exposure;
  return f;
}

TEST(Transmission, FromDirectBeamsCountsAroundTheCentre) {
  const DirectBeamOptions o{.beam_center_x_px = 20, .beam_center_y_px = 15, .radius_px = 10};
  const Transmission t = transmission_from_frames("s", direct_beam(3e4, 4), "air", direct_beam(1e5, 2), o);
  EXPECT_NEAR(t.factor.value, 0.3, 1e-12);
  EXPECT_NEAR(t.factor.causes.at("transmission: s"), 0.3 / std::sqrt(12e4), 1e-6);
  EXPECT_NEAR(t.factor.causes.at("empty beam: air"), -0.3 / std::sqrt(20e4), 1e-6);
  EXPECT_HOLDS(t.method, "within 10 pixels");
}

TEST(Transmission, FromDirectBeamsIsCoveredByItsUncertainty) {
  const DirectBeamOptions o{.beam_center_x_px = 20, .beam_center_y_px = 15, .radius_px = 10};
  std::mt19937_64 random(21);
  const Frame s = direct_beam(300, 4), e = direct_beam(1000, 2);
  int inside = 0;
  const int repeats = 1000;
  for (int r = 0; r < repeats; ++r) {
    const Transmission t = transmission_from_frames("s", poisson_frame(s, random), "air", poisson_frame(e, random), o);
    inside += std::abs(t.factor.value - 0.3) <= t.u;
  }
  // 68.3 % +- 1.5 % (binomial, 1000 tries); 4 of them.
  EXPECT_NEAR(inside / 1000.0, 0.683, 0.06);
}

TEST(Transmission, FromDirectBeamsKnowsAttenuatorsAndDark) {
  DirectBeamOptions o{.beam_center_x_px = 20, .beam_center_y_px = 15, .radius_px = 10};
  o.same_attenuator = false;
  o.empty_attenuator = {0.01, 0.0002};
  Frame s = direct_beam(3e4, 4), e = direct_beam(1e3, 2);
  s.counts += 0.5 * 4;
  e.counts += 0.5 * 2;
  o.dark_per_s = 0.5;
  const Transmission t = transmission_from_frames("s", s, "air", e, o);
  EXPECT_NEAR(t.factor.value, 0.3, 1e-12);
  EXPECT_NEAR(t.factor.causes.at("attenuator: air"), 0.3 * 0.02, 1e-12);
}

TEST(Transmission, FromDirectBeamsRefusesSaturatedOrMissingBeams) {
  DirectBeamOptions o{.beam_center_x_px = 20, .beam_center_y_px = 15, .radius_px = 10};
  const Frame good = direct_beam(1e4, 1);
  Frame bad = good;
  bad.masked(15, 20) = true;
  const std::string text = message<InputError>([&] { transmission_from_frames("s", good, "air", bad, o); });
  EXPECT_HOLDS(text, "1 of the 317 pixels around the beam centre are masked in 'air'");
  EXPECT_HOLDS(text, "interlocked");  // advice about direct beams names the safe way
  bad = good;
  bad.counts.setZero();
  EXPECT_HOLDS(message<InputError>([&] { transmission_from_frames("s", bad, "air", good, o); }), "holds 0 counts");
  bad.counts = Image::Zero(3, 4);
  EXPECT_HOLDS(message<InputError>([&] { transmission_from_frames("s", bad, "air", good, o); }), "has 3 x 4");
  bad = good;
  bad.exposure_s = 0;
  EXPECT_HOLDS(message<InputError>([&] { transmission_from_frames("s", bad, "air", good, o); }), "exposure of 0 s");
  o.beam_center_x_px = -200;
  EXPECT_HOLDS(message<InputError>([&] { transmission_from_frames("s", good, "air", good, o); }),
               "no pixel lies within 10");
}

}  // namespace
}  // namespace sievelight
