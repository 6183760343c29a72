// SPDX-License-Identifier: GPL-3.0-or-later
// One harness under libFuzzer; SIEVELIGHT_HARNESS names it.
#include "harness.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  sievelight::fuzz::SIEVELIGHT_HARNESS({data, size});
  return 0;
}
