// SPDX-License-Identifier: GPL-3.0-or-later
/// Expects a call to be refused with words a user can act on.
#pragma once

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <string>

namespace sievelight::testing_support {

/// The call must raise E, with `says` in its problem and `mend` in its mend.
template <class E, class Call>
void expect_refusal(const Call& call, const std::string& says, const std::string& mend) {
  try {
    call();
    ADD_FAILURE() << "accepted; expected a refusal with: " << says;
  } catch (const E& error) {
    EXPECT_NE(error.problem().find(says), std::string::npos) << error.problem();
    EXPECT_NE(error.mend().find(mend), std::string::npos) << error.mend();
  }
}

}  // namespace sievelight::testing_support
