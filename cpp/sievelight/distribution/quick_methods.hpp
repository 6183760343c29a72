// SPDX-License-Identifier: GPL-3.0-or-later
/// The fast alternatives to sampling, each with what is known of its bands.
#pragma once

#include "sievelight/distribution/preview.hpp"

#include <string>

namespace sievelight {

enum class InversionMethod { sampled, evidence, cross_validation, l_curve, maximum_entropy };

/// "sampled", "evidence", ...
const char* name(InversionMethod method);

/// The fit of a fast method. InputError for `sampled`, which is none.
Preview quick_fit(InversionMethod method, const Compressed& data, Eigen::Index nodes);

/// What its result must say of itself: how its bands fare by simulation (twelve shapes, 1 to 10 % noise).
std::string caveat(InversionMethod method);

}  // namespace sievelight
