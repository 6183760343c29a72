// SPDX-License-Identifier: GPL-3.0-or-later
/// Whether a frame of known geometry looks like a calibrant's: a calibrant measured in a sample's row, or the other
/// way.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/geometry/pixel_map.hpp"

#include <string>

namespace sievelight {

/// Name of the known calibrant whose sharp rings the frame shows; empty when none. `masked` may be empty.
/// Asked for: sharp peaks of the radial profile (ring_like_peaks of ring_guess.hpp, on an axis of q) that stand on the
/// calibrant's places within one common factor of 1 -+ 0.03 (a nominal geometry is not exact) and 0.5 % of scatter; at
/// least two (three where the first is wider than 4 % of q), the first in view among them; no sharp peak between them
/// that is not the calibrant's; each narrower than a third of the room to the next. Peaks of hexagonally ordered pores
/// (1 : sqrt 3 : 2) fail by the middle one, and by their width.
/// InputError when map, counts and mask differ in shape.
std::string looks_like_calibrant(const Image& counts, const PixelMap& map, const Mask& masked);

}  // namespace sievelight
