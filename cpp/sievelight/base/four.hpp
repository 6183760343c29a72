// SPDX-License-Identifier: GPL-3.0-or-later
/// Four doubles that are worked on at once, wherever they stand in memory.
#pragma once

#include "sievelight/base/every_cpu.hpp"

namespace sievelight {

typedef double Four __attribute__((vector_size(32), aligned(8)));

SIEVELIGHT_INLINE void add_four(double* to, const Four& four) { *reinterpret_cast<Four*>(to) += four; }

}  // namespace sievelight
