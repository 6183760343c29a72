// SPDX-License-Identifier: GPL-3.0-or-later
/// A form factor that depends on q times size only, read from a table of Chebyshev points.
/// Stretches of q * size in which the longest dimension turns by 6 rad, 18 points each: the interpolation's error is
/// below 1e-12 of the largest value in the stretch (L. Trefethen 2013, Approximation Theory and Approximation Practice,
/// ch. 8, from memory; measured in the test).
#pragma once

#include "sievelight/distribution/shape.hpp"

namespace sievelight {

/// The shape with its form factor read from a table up to q * size = `largest` (InputError beyond it).
Shape tabulated(const Shape& shape, double largest);

}  // namespace sievelight
