// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/calibrant.hpp"

#include "geometry/refusal.hpp"
#include "sievelight/base/units.hpp"

#include <gtest/gtest.h>

#include <algorithm>

namespace sievelight {
namespace {

using testing_support::expect_refusal;

double d_of(const Calibrant& c, const std::string& indices) {
  const auto found = std::ranges::find(c.reflections, indices);
  return found == c.reflections.end() ? 0.0 : c.d_nm[found - c.reflections.begin()];
}

// Source: q_n = 2 pi n / d001 with d001 = 5.8380 nm (Huang et al. 1993, J. Appl. Cryst. 26, 180), 9 digits.
TEST(Calibrant, HoldsTheOrdersOfSilverBehenate) {
  const Calibrant c = calibrant("silver behenate");
  ASSERT_EQ(c.d_nm.size(), 13);  // the orders that paper reports
  const double q[] = {1.07625648, 2.15251295, 3.22876943, 4.30502590, 5.38128238,
                      6.45753886, 7.53379533, 8.61005181, 9.68630828, 10.7625648};
  for (int n = 0; n < 10; ++n) EXPECT_NEAR(2.0 * pi / c.d_nm[n], q[n], 5e-9 * q[n]);
  EXPECT_DOUBLE_EQ(c.relative_u, 5e-4);
  EXPECT_EQ(c.reflections.front(), "001");
}

// Source: q of SRM 660c from its certified a = 4.156826 Angstrom; reflections of a primitive cubic cell.
TEST(Calibrant, HoldsLanthanumHexaboride) {
  const Calibrant c = calibrant("LaB6");
  const double q[] = {15.115344, 21.376324, 26.180543, 30.230687};
  for (int n = 0; n < 4; ++n) EXPECT_NEAR(2.0 * pi / c.d_nm[n], q[n], 1e-6);
  EXPECT_EQ(c.reflections[2], "111");
  EXPECT_EQ(std::ranges::count(c.reflections, "221"), 0);  // same spacing as 300, kept once
  EXPECT_GT(d_of(c, "300"), 0.0);
}

// Source: SRM 640f, d(111) = 3.1356725 Angstrom; the sequence 111 220 311 400 331 422 511 440 of a diamond structure
// is textbook (B. D. Cullity, Elements of X-ray Diffraction). 200, 222 and 420 are extinct.
TEST(Calibrant, HoldsSiliconWithTheExtinctionsOfDiamond) {
  const Calibrant c = calibrant("silicon");
  EXPECT_NEAR(c.d_nm[0], 0.31356725, 5e-9);
  const std::vector<std::string> first(c.reflections.begin(), c.reflections.begin() + 8);
  EXPECT_EQ(first, (std::vector<std::string>{"111", "220", "311", "400", "331", "422", "511", "440"}));
}

// Source: cell of Int. Tables Cryst. C (2006), Table 5.2.11.1. The sequence 012 104 110 006 113 202 024 116 of
// corundum's powder lines and its spacings are textbook (rounded to 1e-4 nm; from memory); 003 and 101 are extinct.
TEST(Calibrant, HoldsCorundumWithTheExtinctionsOfItsGlidePlane) {
  const Calibrant c = calibrant("corundum");
  EXPECT_NEAR(d_of(c, "006"), 1.29917 / 6.0, 1e-12);
  EXPECT_NEAR(d_of(c, "110"), 0.475893 / 2.0, 1e-12);
  const double d[] = {0.3480, 0.2551, 0.2379, 0.2165, 0.2085, 0.1964, 0.1740, 0.1601};
  for (int n = 0; n < 8; ++n) EXPECT_NEAR(c.d_nm[n], d[n], 1e-4) << c.reflections[n];
}

// Source: 2 theta of the first five orders at Cu K alpha 1 (0.1540593 nm), from d001 = 5.8380 nm by Bragg's law, 7
// digits.
TEST(Calibrant, RingsStandAtBraggsAngles) {
  const Eigen::VectorXd angles = ring_two_theta_rad(calibrant("silver behenate").d_nm, 0.1540593, 5);
  ASSERT_EQ(angles.size(), 5);
  const double expected[] = {1.512025, 3.024314, 4.537130, 6.050737, 7.565402};
  for (int n = 0; n < 5; ++n) EXPECT_NEAR(degrees(angles[n]), expected[n], 1e-6);
}

TEST(Calibrant, AreFallingLists) {
  for (const std::string& name : known_calibrants()) {
    const Calibrant c = calibrant(name);
    EXPECT_EQ(c.name, name);
    ASSERT_EQ(static_cast<std::size_t>(c.d_nm.size()), c.reflections.size());
    for (Eigen::Index i = 1; i < c.d_nm.size(); ++i) EXPECT_LT(c.d_nm[i], c.d_nm[i - 1]);
    EXPECT_FALSE(c.source.empty());
  }
}

TEST(Calibrant, TakesNamesAsPeopleTypeThem) {
  for (const char* name : {"Silver Behenate", "silver-behenate", "silver_behenate", " AgBeh ", "AGBEHENATE"})
    EXPECT_EQ(calibrant(name).name, "silver behenate") << name;
  EXPECT_EQ(calibrant("Al2O3").name, "corundum");
  EXPECT_EQ(calibrant("Si (SRM 640f)").name, "silicon");
}

TEST(Calibrant, NamesTheKnownOnesWhenAskedForAnother) {
  expect_refusal<InputError>([] { calibrant("unobtainium"); }, "'unobtainium' is not known", "silver behenate, lanth");
}

TEST(Calibrant, TakesSpacingsOfTheUsersOwn) {
  const Calibrant c = calibrant("house standard", Eigen::Vector3d(6.0, 3.0, 2.0), 1e-3);
  EXPECT_EQ(c.d_nm.size(), 3);
  EXPECT_EQ(c.relative_u, 1e-3);
  expect_refusal<InputError>([] { calibrant("x", Eigen::Vector2d(2.0, 3.0), 0.0); }, "spacing 2 (3 nm)", "falling");
  expect_refusal<InputError>([] { calibrant("x", Eigen::Vector2d(2.0, -1.0), 0.0); }, "spacing 2 is -1 nm", "nm");
  expect_refusal<InputError>([] { calibrant("x", Eigen::VectorXd(), 0.0); }, "no spacing", "at least one");
  expect_refusal<InputError>([] { calibrant("x", Eigen::Vector2d(3.0, 1.0), -1.0); }, "uncertainty", "0.0005");
}

}  // namespace
}  // namespace sievelight
