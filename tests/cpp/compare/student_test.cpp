// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/student.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace sievelight {
namespace {

// Source: printed tables of Student's t, two-sided 95 % (in every statistics textbook; four to six digits).
TEST(Student, AgreesWithPrintedTables) {
  EXPECT_NEAR(student_quantile(0.975, 1.0), 12.7062, 5e-5);
  EXPECT_NEAR(student_quantile(0.975, 2.0), 4.30265, 5e-6);
  EXPECT_NEAR(student_quantile(0.975, 10.0), 2.22814, 5e-6);
  EXPECT_NEAR(student_quantile(0.95, 5.0), 2.01505, 5e-6);
  EXPECT_NEAR(student_quantile(0.975, std::numeric_limits<double>::infinity()), 1.959964, 5e-7);
}

// Closed forms: one degree of freedom is Cauchy, t = tan(pi (p - 1/2)); two, t = (2p - 1) / sqrt(2 p (1 - p)).
TEST(Student, AgreesWithTheClosedFormsOfFewDegrees) {
  for (double p : {0.55, 0.75, 0.975, 0.9917, 0.9999}) {
    const double cauchy = std::tan(std::acos(-1.0) * (p - 0.5)), two = (2 * p - 1) / std::sqrt(2 * p * (1 - p));
    EXPECT_NEAR(student_quantile(p, 1.0) / cauchy, 1.0, 1e-9);
    EXPECT_NEAR(student_quantile(p, 2.0) / two, 1.0, 1e-9);
    EXPECT_NEAR(student_upper(cauchy, 1.0), 1.0 - p, 1e-12);
  }
}

// Every quantile exists and is one: GSL's own inverse is not a number at 0.642 degrees of freedom and p = 0.6, for one.
TEST(Student, InvertsItselfForDegreesThatAreNotWhole) {
  for (double degrees = 0.6; degrees < 3000.0; degrees *= 1.07)
    for (double p : {0.001, 0.025, 0.4, 0.5, 0.6, 0.8413, 0.95, 0.975, 0.99167, 0.9999})
      EXPECT_NEAR(student_upper(student_quantile(p, degrees), degrees), 1.0 - p, 1e-10) << degrees << " " << p;
}

}  // namespace
}  // namespace sievelight
