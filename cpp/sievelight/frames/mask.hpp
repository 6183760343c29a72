// SPDX-License-Identifier: GPL-3.0-or-later
/// Masks: read from files, and made from counts.
#pragma once

#include "sievelight/base/image.hpp"

#include <string>

namespace sievelight {

/// Reads a mask, by the file's content: from HDF5, NeXus `pixel_mask` (any bit set = masked) or a data set `mask`; from
/// TIFF, one grey page, of single bits too; from NPY, one array of numbers or booleans. Non-zero = masked.
/// DataError when there is none, or when its shape is not (rows, columns).
Mask read_mask(const std::string& path, Eigen::Index rows, Eigen::Index columns);

/// Union of two masks of equal shape (InputError otherwise); an empty mask masks nothing.
Mask unite(const Mask& a, const Mask& b);

/// Pixels that cannot be what their neighbourhood is, hot or dead, with a chance of `false_alarm` per pixel.
/// A pixel is held against a level beyond the second-highest (or second-lowest) of its (2 r + 1)^2 - 1 neighbours, as
/// far beyond it as that one lies from their median, by an exact tail of the counts to be expected there. So neither
/// the steep fall near the beamstop (the neighbours uphill are higher) nor the crest of a sharp ring raises an alarm,
/// which a comparison with the median alone would; on flat ground the level is some four standard deviations above the
/// median. Two hot pixels side by side are found, clusters of three are not; a reflection one pixel wide is not told
/// from a hot pixel. Pixels already masked and those with fewer than 6 neighbours take no part.
Mask find_defects(const Image& counts, const Mask& masked, double false_alarm = 1e-9, int radius = 2);

}  // namespace sievelight
