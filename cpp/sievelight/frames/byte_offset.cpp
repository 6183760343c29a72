// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/byte_offset.hpp"

#include "sievelight/base/error.hpp"

#include <cstdint>
#include <cstring>
#include <limits>
#include <type_traits>

namespace sievelight {
namespace {

constexpr const char* copy_again = "Copy the file again from where it was measured; leave the frame out if it is lost.";

// The little-endian number in `width` bytes, with its sign.
std::int64_t take(std::span<const unsigned char>& packed, std::size_t width) {
  if (packed.size() < width) throw DataError("the data end too early", copy_again);
  std::uint64_t value = 0;
  for (std::size_t i = width; i-- > 0;) value = value << 8 | packed[i];
  packed = packed.subspan(width);
  const int unused = 64 - 8 * static_cast<int>(width);
  return static_cast<std::int64_t>(value << unused) >> unused;
}

template <typename T>
bool holds(std::int64_t value) {
  if constexpr (sizeof(T) == 8)
    return std::is_signed_v<T> || value >= 0;
  else
    return value >= static_cast<std::int64_t>(std::numeric_limits<T>::min()) &&
           value <= static_cast<std::int64_t>(std::numeric_limits<T>::max());
}

}  // namespace

std::vector<unsigned char> decode_byte_offset(std::span<const unsigned char> packed, std::size_t n,
                                              const StoredType& type) {
  if (n > packed.size()) throw DataError("the data end too early", copy_again);  // a byte a number at least
  std::vector<unsigned char> out(n * type.size);
  with_number(type.kind, [&](auto zero) {
    using T = decltype(zero);
    if constexpr (std::is_integral_v<T>) {
      std::uint64_t last = 0;  // sums wrap here and are looked at as numbers with a sign
      for (std::size_t i = 0; i < n; ++i) {
        std::int64_t step = take(packed, 1);
        if (step == std::numeric_limits<std::int8_t>::min()) step = take(packed, 2);
        if (step == std::numeric_limits<std::int16_t>::min()) step = take(packed, 4);
        if (step == std::numeric_limits<std::int32_t>::min()) step = take(packed, 8);
        last += static_cast<std::uint64_t>(step);
        const auto value = static_cast<std::int64_t>(last);
        if (!holds<T>(value)) throw DataError("a number is too large for its type", copy_again);
        const T number = static_cast<T>(value);
        std::memcpy(out.data() + i * sizeof(T), &number, sizeof(T));
      }
    } else {
      throw DataError("floating-point numbers have no byte offsets", copy_again);
    }
  });
  return out;
}

}  // namespace sievelight
