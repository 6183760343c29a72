// SPDX-License-Identifier: GPL-3.0-or-later
/// e^x of many numbers at once, in a form that the compiler turns into vector instructions; within a unit of the last
/// place of the standard library's, and the same bits on every processor.
/// Source: rational approximation of S. L. Moshier, Cephes Mathematical Library, exp.c (from memory; the test holds it
/// against the standard library).
#pragma once

#include <Eigen/Core>

namespace sievelight {

/// Beyond these the exponential of the end is taken: 3.3e-308 and 8.2e307.
inline constexpr double least_exponent = -708.0, largest_exponent = 709.0;

/// out[i] = e^x[i]; may be done in place. No x is NaN.
void exponentials(const double* x, Eigen::Index n, double* out);

}  // namespace sievelight
