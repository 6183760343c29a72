// SPDX-License-Identifier: GPL-3.0-or-later
/// Pixels that a calibration must not look at, found from the frame itself: it has to work before a mask exists.
#pragma once

#include "sievelight/base/image.hpp"

namespace sievelight {

/// The given mask (empty = none) and, on top of it,
/// - counts that are not finite or are negative;
/// - hot pixels: far above the second largest of their eight neighbours, which no smooth ring is;
/// - dead areas: connected pixels of zero counts whose border counts 15 or more on average (a Poisson zero there has a
///   probability below 4e-7), or n of them with a border of m >= 4 and n (m - 3) >= 20 (a given connected area of n
///   zeros has exp(-n m), and some 13^n such areas contain a pixel: below 2e-9): gaps, dead pixels, an opaque beamstop.
/// (rows, columns), true = do not use. InputError when the mask has another shape than the counts.
Mask unusable_pixels(const Image& counts, const Mask& masked);

}  // namespace sievelight
