// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/error.hpp"

namespace sievelight {

Error::Error(const std::string& what, const std::string& mend)
    : std::runtime_error(mend.empty() ? what : what + "\n" + mend), problem_(what), mend_(mend) {}

}  // namespace sievelight
