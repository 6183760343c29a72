// SPDX-License-Identifier: GPL-3.0-or-later
/// What the benchmarks share: a kernel whose result is wrong is not timed, and the program ends with 1.
#pragma once

#include <benchmark/benchmark.h>

namespace sievelight {

inline int wrong_results = 0;

inline void wrong(benchmark::State& state, const char* what) {
  ++wrong_results;
  state.SkipWithError(what);
}

/// Apply() this to what costs by the pixel: frames of 256 to 2048 pixels on a side, and whether the cost is in
/// proportion.
inline constexpr auto by_pixel = [](auto* kernel) {
  kernel->RangeMultiplier(2)->Range(256, 2048)->Unit(benchmark::kMicrosecond)->Complexity(benchmark::oN);
};

}  // namespace sievelight
