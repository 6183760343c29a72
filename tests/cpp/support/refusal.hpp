// SPDX-License-Identifier: GPL-3.0-or-later
/// The words with which a call is refused.
#pragma once

#include <string>

namespace sievelight {

/// The words of the error that a call raises, or "accepted".
template <typename ErrorType, typename Call>
std::string refusal(const Call& call) {
  try {
    call();
  } catch (const ErrorType& error) {
    return error.what();
  }
  return "accepted";
}

}  // namespace sievelight
