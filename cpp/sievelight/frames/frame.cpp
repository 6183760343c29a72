// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/frame.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {

void check(const Frame& frame) {
  const Image& counts = frame.counts;
  if (counts.rows() != frame.masked.rows() || counts.cols() != frame.masked.cols())
    throw InputError(fmt::format("the counts are {} x {} and their mask {} x {} (rows x columns).", counts.rows(),
                                 counts.cols(), frame.masked.rows(), frame.masked.cols()),
                     "Give a mask of the frame's shape, or none.");
  for (Eigen::Index y = 0; y < counts.rows(); ++y)
    for (Eigen::Index x = 0; x < counts.cols(); ++x)
      if (!frame.masked(y, x) && !(counts(y, x) >= 0 && std::isfinite(counts(y, x))))
        throw InputError(fmt::format("the pixel at row {}, column {} holds {} counts.", y, x, counts(y, x)),
                         "Mask pixels that hold no counts.");
}

}  // namespace sievelight
