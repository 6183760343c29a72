// SPDX-License-Identifier: GPL-3.0-or-later
/// Memory of large arrays in large pages, where the system has them on request: filling a fresh array of a frame's size
/// otherwise costs as much in page faults as the arithmetic does.
#pragma once

#include <cstddef>

namespace sievelight {

/// Call after the array was made and before it is filled. Only a wish; does nothing to small arrays.
void prefer_large_pages(const void* memory, std::size_t bytes);

template <typename Array>
void prefer_large_pages(const Array& array) {
  prefer_large_pages(array.data(), static_cast<std::size_t>(array.size()) * sizeof(*array.data()));
}

}  // namespace sievelight
