// SPDX-License-Identifier: GPL-3.0-or-later
/// A mask of what lies in a range of q.
#pragma once

#include "sievelight/base/image.hpp"

namespace sievelight {

/// Pixels of the map (rows, columns) with low <= q <= high, in 1/nm; `outside` = mask everything but these.
/// InputError when the range is impossible or holds no pixel, and when nothing would be left to use.
Mask mask_q_range(const Image& q_per_nm, double low_per_nm, double high_per_nm, bool outside = false);

}  // namespace sievelight
