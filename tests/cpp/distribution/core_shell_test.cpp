// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/core_shell.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/distribution/sphere.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

// Source: derived by adaptive quadrature with 14 digits: core radius 5 nm, shell 2 nm, contrasts 1 and 2; P is over
// P(0) and F(0) = 2349.9113048852 nm^3.
TEST(CoreShell, HasTheDerivedFormFactor) {
  for (const Shape& shape : {core_shell_sphere(2.0 / 7.0, 2.0), core_shell_sphere_of_thickness(2.0, 2.0)}) {
    const double q[] = {0.05, 0.1, 0.3, 0.5, 1, 2};
    const double p[] = {0.97313368238341,  0.89613108242178,   0.34262327000721,
                        0.019358769028381, 0.0013470953556664, 4.1990760197851e-5};
    const double forward = shape.form_factor(0.0, 14.0);
    EXPECT_NEAR(std::sqrt(forward) * shape.volume_nm3(14.0) / 2349.9113048852, 1.0, 1e-12);
    for (int k = 0; k < 6; ++k) EXPECT_NEAR(shape.form_factor(q[k], 14.0) / forward / p[k], 1.0, 1e-11) << q[k];
  }
}

// A shell like the core is a sphere of the outer diameter, a shell like the matrix one of the core's.
TEST(CoreShell, IsASphereAtItsLimits) {
  for (const double q : {0.0, 0.02, 0.4, 3.0}) {
    EXPECT_NEAR(core_shell_sphere(0.3, 1.0).form_factor(q, 12.0), sphere_form_factor(6.0 * q), 1e-15);
    const double core = std::pow(0.7, 6) * sphere_form_factor(0.7 * 6.0 * q);
    EXPECT_NEAR(core_shell_sphere(0.3, 0.0).form_factor(q, 12.0), core, 1e-15);
    // Smaller than the shell is thick: all shell.
    EXPECT_NEAR(core_shell_sphere_of_thickness(2.0, 0.5).form_factor(q, 3.0), 0.25 * sphere_form_factor(1.5 * q),
                1e-15);
  }
  EXPECT_DOUBLE_EQ(core_shell_sphere(0.3, 0.0).volume_nm3(12.0), sphere_volume_nm3(12.0));
}

TEST(CoreShell, RefusesAnImpossibleShell) {
  EXPECT_THROW(core_shell_sphere(1.0, 0.5), InputError);
  EXPECT_THROW(core_shell_sphere(0.0, 0.5), InputError);
  EXPECT_THROW(core_shell_sphere(0.2, std::nan("")), InputError);
  EXPECT_THROW(core_shell_sphere_of_thickness(-1.0, 0.5), InputError);
}

}  // namespace
}  // namespace sievelight
