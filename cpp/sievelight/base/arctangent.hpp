// SPDX-License-Identifier: GPL-3.0-or-later
/// atan2 of many numbers at once, in a form that the compiler turns into vector instructions; within two units of the
/// last place of the standard library's, and the same bits on every processor.
/// Source: rational approximation of S. L. Moshier, Cephes Mathematical Library, atan.c (from memory; the test holds it
/// against the standard library).
#pragma once

#include <Eigen/Core>

namespace sievelight {

/// out[i] = atan2(y[i], x[i]) in [-pi, pi], 0 where both are 0.
void arctangents(const double* y, const double* x, Eigen::Index n, double* out);

}  // namespace sievelight
