// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/recognise.hpp"

#include "geometry/refusal.hpp"
#include "geometry/unknown_camera.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

using namespace testing_support;

std::string seen(const Image& counts, const DetectorGeometry& g) {
  return looks_like_calibrant(counts, pixel_map(g, counts.rows(), counts.cols()), Mask());
}

TEST(Recognise, KnowsACalibrantEvenWithANominalGeometry) {
  const RingScenery s = camera(130.0, 100.0);
  const Image counts = poisson(expected_rings(s), 1);
  EXPECT_EQ(seen(counts, s.truth), "silver behenate");
  DetectorGeometry nominal = s.truth;
  nominal.distance_mm *= 1.02;
  EXPECT_EQ(seen(counts, nominal), "silver behenate");
  for (const char* name : {"lanthanum hexaboride", "silicon"}) {
    RingScenery wide = camera(20.0, 30.0, 120.0);
    wide.truth.wavelength_nm = 0.05;
    wide.d_nm = calibrant(name).d_nm;
    wide.sigma_per_nm = 0.2;
    wide.fading = 0.9;
    EXPECT_EQ(seen(poisson(expected_rings(wide), 2), wide.truth), name);
  }
}

// Property: no false alarm in 40 smooth samples: spheres of many sizes (their first minima included), Guinier and
// Porod.
TEST(Recognise, RaisesNoAlarmOnSmoothSamples) {
  const RingScenery s = camera(130.0, 100.0);
  int alarms = 0;
  for (int i = 0; i < 40; ++i) {
    const double radius_nm = 1.0 + 0.35 * i;
    Image expected(s.rows, s.columns);
    for (Eigen::Index y = 0; y < s.rows; ++y)
      for (Eigen::Index x = 0; x < s.columns; ++x) {
        const double q = std::max(q_per_nm(s.truth, static_cast<double>(x), static_cast<double>(y)), 0.05),
                     t = q * radius_nm;
        const double f = 3.0 * (std::sin(t) - t * std::cos(t)) / (t * t * t);
        expected(y, x) = 2.0 + 1e4 * f * f;  // spheres of one size: the sharpest a smooth sample can be (Rayleigh 1911)
      }
    alarms += seen(poisson(expected, 20 + i), s.truth).empty() ? 0 : 1;
  }
  EXPECT_EQ(alarms, 0);
}

// Property: none in 30 hexagonally ordered samples (1 : sqrt 3 : 2 : sqrt 7), some with their first peak at behenate's
// very place; peaks as broad as 2 % to 6 % of q, as of domains of some 50 to 150 nm.
TEST(Recognise, RaisesNoAlarmOnHexagonallyOrderedPores) {
  int alarms = 0, number = 0;
  for (const double spacing : {5.838, 5.838 * std::sqrt(3.0), 2.0 * 5.838, 9.0, 7.0, 10.1})
    for (const double width : {0.02, 0.03, 0.04, 0.05, 0.06}) {
      RingScenery s = camera(130.0, 100.0);
      s.d_nm = spacing / Eigen::ArrayXd{{1.0, std::sqrt(3.0), 2.0, std::sqrt(7.0)}};
      s.sigma_per_nm = width * 2.0 * pi / spacing / 2.3548 + 0.01;
      s.fading = 0.5;
      s.parasitic = 10.0;
      alarms += seen(poisson(expected_rings(s), 70 + number++), s.truth).empty() ? 0 : 1;
    }
  EXPECT_EQ(alarms, 0);
}

TEST(Recognise, RefusesAMapOfAnotherShape) {
  const RingScenery s = camera(130.0, 100.0);
  expect_refusal<InputError>([&] { looks_like_calibrant(Image::Zero(20, 20), pixel_map(s.truth, 20, 30), Mask()); },
                             "20 rows and 30 columns", "own shape");
  EXPECT_EQ(looks_like_calibrant(Image::Zero(20, 20), pixel_map(s.truth, 20, 20), Mask::Constant(20, 20, true)), "");
}

}  // namespace
}  // namespace sievelight
