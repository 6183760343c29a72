// SPDX-License-Identifier: GPL-3.0-or-later
/// Maximum entropy: the distribution nearest to a flat one (in ln D) that the data allow.
/// minimise chi^2(x)/2 - alpha S(x), S = sum x - m - x ln(x/m) with m the flat level of the same volume; alpha is
/// lowered until chi^2 equals the number of points, or as far as it falls. Sources: J. Skilling, R. K. Bryan 1984, Mon.
/// Not. R. Astron. Soc. 211, 111; S. F. Gull, G. J. Daniell 1978, Nature 272, 686 (from memory). Its errors are the
/// curvature at the maximum alone: measured by simulation on twelve shapes the 95 % band holds the density 80 to 90 %
/// of the time and the relative width hardly ever.
#pragma once

#include "sievelight/distribution/preview.hpp"

namespace sievelight {

/// ln_strength is ln alpha. @param nodes sizes among the columns; K q^-4, if any, is free and positive.
/// NumericalError when nothing scatters.
Preview max_entropy(const Compressed& data, Eigen::Index nodes);

}  // namespace sievelight
