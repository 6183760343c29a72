// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/mask_q.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/frames/mask_shapes.hpp"

#include <fmt/format.h>

namespace sievelight {

Mask mask_q_range(const Image& q, double low, double high, bool outside) {
  if (q.size() == 0) throw InputError("the map of q is empty.", "Give pixel_map(...).q_per_nm.");
  if (!(low <= high))
    throw InputError(fmt::format("the range of q runs from {} to {} 1/nm.", low, high), "Give low <= high.");
  const Mask covered = q >= low && q <= high;
  if (!covered.any())
    throw InputError(fmt::format("no pixel lies in {:g} <= q <= {:g} 1/nm; the detector sees {:.4g} to {:.4g} 1/nm.",
                                 low, high, q.minCoeff(), q.maxCoeff()),
                     "Give a range that the detector sees, in 1/nm.");
  return finish_mask(covered, outside, fmt::format("the range of q from {:g} to {:g} 1/nm", low, high).c_str());
}

}  // namespace sievelight
