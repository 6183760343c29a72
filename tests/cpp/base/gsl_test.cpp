// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/gsl.hpp"

#include "sievelight/base/error.hpp"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_sf_gamma.h>
#include <gtest/gtest.h>

namespace sievelight {
namespace {

// GSL's default handler would end the process here.
TEST(Gsl, AnErrorBecomesANumericalErrorThatNamesThePlace) {
  quiet_gsl();
  gsl_sf_result result;
  const int status = gsl_sf_lngamma_e(0.0, &result);
  ASSERT_NE(status, GSL_SUCCESS);
  try {
    check_gsl(status, "the gamma function");
    FAIL() << "no error";
  } catch (const NumericalError& error) {
    EXPECT_EQ(error.problem().find("the gamma function failed: "), 0u) << error.what();
  }
  EXPECT_NO_THROW(check_gsl(GSL_SUCCESS, "anything"));
}

}  // namespace
}  // namespace sievelight
