// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/large_pages.hpp"

#include <cstdint>

#if defined(__linux__)
#include <sys/mman.h>
#endif

namespace sievelight {

void prefer_large_pages([[maybe_unused]] const void* memory, [[maybe_unused]] std::size_t bytes) {
#if defined(__linux__) && defined(MADV_HUGEPAGE)
  constexpr std::uintptr_t large = std::uintptr_t{1} << 21;
  const auto begin = reinterpret_cast<std::uintptr_t>(memory);
  // Whole large pages inside the array only: what lies around it belongs to others.
  const std::uintptr_t first = (begin + large - 1) / large * large, last = (begin + bytes) / large * large;
  if (first >= last) return;
  madvise(const_cast<char*>(static_cast<const char*>(memory)) + (first - begin), last - first, MADV_HUGEPAGE);
#endif
}

}  // namespace sievelight
