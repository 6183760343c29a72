// SPDX-License-Identifier: GPL-3.0-or-later
// Runs the benchmarks; ends with 1 when a kernel's result was wrong, never because it was slow.
#include "kernel.hpp"

#include <cstdio>

int main(int argc, char** argv) {
  benchmark::Initialize(&argc, argv);
  if (benchmark::ReportUnrecognizedArguments(argc, argv)) return 2;
  if (benchmark::RunSpecifiedBenchmarks() == 0) return 2;
  if (sievelight::wrong_results > 0) std::fprintf(stderr, "%d results are wrong\n", sievelight::wrong_results);
  return sievelight::wrong_results > 0 ? 1 : 0;
}
