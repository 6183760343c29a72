// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/cylinder.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

// Source: derived by adaptive quadrature with 14 digits: radius 2 nm, length 10 nm.
TEST(Cylinder, HasTheDerivedFormFactor) {
  const double q[] = {0.1, 0.5, 1, 2};
  const double p[] = {0.96623554185959, 0.45599086837669, 0.10860272551619, 6.6297730162692e-4};
  for (int k = 0; k < 4; ++k) {
    EXPECT_NEAR(cylinder_form_factor(q[k], 2.0, 10.0) / p[k], 1.0, 1e-12) << q[k];
    EXPECT_NEAR(cylinder(2.5).form_factor(q[k], 4.0) / p[k], 1.0, 1e-12);
    EXPECT_NEAR(form_factors(cylinder_of_length(10.0), q[k], Eigen::ArrayXd::Constant(1, 4.0))[0] / p[k], 1.0, 1e-11);
    EXPECT_NEAR(form_factors(lamella(4.0), q[k], Eigen::ArrayXd::Constant(1, 10.0))[0] / p[k], 1.0, 1e-11);
  }
}

// Source: Rg^2 = R^2/2 + L^2/12 (Guinier and Fournet 1955).
TEST(Cylinder, HasItsRadiusOfGyration) {
  const double q = 1e-3;
  EXPECT_NEAR((1 - cylinder_form_factor(q, 2.0, 10.0)) * 3 / (q * q) / (2.0 + 100.0 / 12), 1.0, 1e-5);
}

// Source: between 1/L and 1/R a long cylinder has P = pi/(q L), from the integral of sinc^2; what the ends take is
// 2/(q L)^2.
TEST(Cylinder, FallsAsOneOverQWhenLong) {
  const double q = 0.1, length = 5000.0, radius = 0.05;
  EXPECT_NEAR(cylinder_form_factor(q, radius, length) * q * length / pi, 1.0, 2e-3);
}

// Source: a wide sheet has P = 8/(q W)^2 sinc^2(q T/2) between 1/W and beyond (2 pi/(q^2 A) with the area A = pi W^2/4;
// Guinier and Fournet 1955); the rim takes about 1/(q W).
TEST(Lamella, FallsAsOneOverQSquaredWhenWide) {
  const double q = 0.5, width = 4000.0, thickness = 3.0;
  const double s = std::sin(0.5 * q * thickness) / (0.5 * q * thickness);
  EXPECT_NEAR(cylinder_form_factor(q, 0.5 * width, thickness) * q * q * width * width / (8 * s * s), 1.0, 5e-3);
}

// Many sizes at once by moments, against one by one: to q R = 200 and lengths of q L = 4000. The moments carry 1e-16 of
// what a small particle would scatter, which is 1e-9 of P where that has fallen to 1e-10 (q R = 200).
TEST(Cylinder, OfOneLengthIsTheSameAtOnceAndOneByOne) {
  for (const Shape& shape : {cylinder_of_length(300.0), lamella(400.0)})
    for (const double q : {0.0, 0.003, 0.2, 2.0, 10.0}) {
      Eigen::ArrayXd d(5);
      d << 0.5, 3.0, 11.0, 25.0, 40.0;
      const Eigen::ArrayXd p = form_factors(shape, q, d);
      for (int j = 0; j < 5; ++j)
        EXPECT_NEAR(p[j] / shape.form_factor(q, d[j]), 1.0, q * d[j] > 100 ? 3e-9 : 1e-10) << shape.name << q << d[j];
    }
}

// Porod's law: q^4 P averages to 2 pi S/V^2. The ends leave terms that fall as 1/(q L) and oscillate.
TEST(Cylinder, ReachesPorodsLawOfItsSurface) {
  for (const Shape& shape : {cylinder(2.0), cylinder_of_length(5.0), lamella(6.0)}) {
    const double size = 2.5, volume = shape.volume_nm3(size);
    const double surface = volume * (shape.surface_per_size / size + shape.surface_per_nm);
    double mean = 0, all = 0;
    for (int k = 0; k < 2000; ++k) {
      const double q = 100 + 0.05 * k, bell = std::pow(std::sin(pi * k / 2000), 2);
      mean += bell * std::pow(q, 4) * shape.form_factor(q, size);
      all += bell;
    }
    EXPECT_NEAR(mean / all * volume * volume / (2 * pi * surface), 1.0, 0.01) << shape.name;
  }
}

TEST(Cylinder, HasItsVolume) {
  EXPECT_DOUBLE_EQ(cylinder(2.5).volume_nm3(4.0), 40 * pi);
  EXPECT_DOUBLE_EQ(cylinder_of_length(10.0).volume_nm3(4.0), 40 * pi);
  EXPECT_DOUBLE_EQ(lamella(4.0).volume_nm3(10.0), 40 * pi);
}

TEST(Cylinder, RefusesImpossibleLengths) {
  EXPECT_THROW(cylinder(0.0), InputError);
  EXPECT_THROW(cylinder(1e3), InputError);
  EXPECT_THROW(cylinder_of_length(-5.0), InputError);
  EXPECT_THROW(lamella(0.0), InputError);
}

}  // namespace
}  // namespace sievelight
