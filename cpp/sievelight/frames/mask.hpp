// SPDX-License-Identifier: GPL-3.0-or-later
/// Masks: read from files, and made from counts.
#pragma once

#include "sievelight/base/image.hpp"

#include <string>

namespace sievelight {

/// Reads a mask from an HDF5 file: NeXus `pixel_mask` (any bit set = masked) or a data set `mask` (non-zero = masked).
/// DataError when there is none, or when its shape is not (rows, columns).
Mask read_mask(const std::string& path, Eigen::Index rows, Eigen::Index columns);

/// Union of two masks of equal shape (InputError otherwise); an empty mask masks nothing.
Mask unite(const Mask& a, const Mask& b);

/// Pixels that cannot be what their neighbourhood is: hot or dead, by a Poisson test against the median of the (2 r +
/// 1)^2 neighbours with a chance of `false_alarm` per pixel. Pixels already masked take no part.
Mask find_defects(const Image& counts, const Mask& masked, double false_alarm = 1e-9, int radius = 2);

}  // namespace sievelight
