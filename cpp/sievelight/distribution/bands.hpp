// SPDX-License-Identifier: GPL-3.0-or-later
/// Bands of many quantities from their draws: the median and the central 68.27 and 95 % intervals of every row.
/// Few draws are sorted eight rows at a time by a network of exchanges that does not depend on the numbers, so that
/// the compiler makes vector instructions of it: a tenth of the time of selecting row by row. Many draws go through
/// summarise(). Both give the same numbers.
/// Source of the network: D. E. Knuth, The Art of Computer Programming 3, 2nd ed. (1998), 5.2.2, algorithm M (K. E.
/// Batcher 1968), from memory; the test holds it against std::sort.
#pragma once

#include "sievelight/distribution/size_distribution.hpp"

#include <Eigen/Core>

namespace sievelight {

/// @param draws (quantities, draws); NaN draws are left out, NaN where none remains.
Band bands(const Eigen::MatrixXd& draws);

}  // namespace sievelight
