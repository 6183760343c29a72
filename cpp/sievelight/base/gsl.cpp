// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/gsl.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>
#include <gsl/gsl_errno.h>

namespace sievelight {

void quiet_gsl() {
  static const bool once = [] {
    gsl_set_error_handler_off();
    return true;
  }();
  (void)once;
}

void check_gsl(int status, const char* where) {
  if (status != GSL_SUCCESS)
    throw NumericalError(fmt::format("{} failed: {}.", where, gsl_strerror(status)),
                         "Check that the data and the range asked for make sense; narrow the range and try again.");
}

}  // namespace sievelight
