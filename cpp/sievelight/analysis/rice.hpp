// SPDX-License-Identifier: GPL-3.0-or-later
/// The length of a two-dimensional vector measured with equal normal errors: Rice's distribution.
/// The length of noise alone is not zero, so value +- u is wrong for short vectors; the intervals here hold at any
/// length. Source: S. O. Rice, Bell Syst. Tech. J. 24 (1945) 46 (from memory); the interval is the set of true lengths
/// for which the measured one is no further out in a tail than (1 - level)/2, checked by counting.
#pragma once

#include "sievelight/base/range.hpp"

namespace sievelight {

/// P(length <= r) for true length a, both in units of one standard deviation per component. NumericalError if the
/// integral does not settle. InputError unless both are finite and zero or more.
double rice_cdf(double r, double a);

/// Central interval of the true length at a confidence level, same units; both ends are zero where noise alone is often
/// longer than what was measured.
Range rice_interval(double r, double level);

}  // namespace sievelight
