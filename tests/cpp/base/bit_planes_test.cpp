// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/bit_planes.hpp"

#include "base/bitshuffle_encoder.hpp"

#include <gtest/gtest.h>

#include <cstdint>
#include <cstring>
#include <random>
#include <vector>

namespace sievelight {
namespace {

using bits::Bytes, bits::planes_of;

// Lengths on both sides of the vector widths, for every size of number.
TEST(BitPlanes, BecomeTheElementsTheyWereMadeOf) {
  std::mt19937 random(5);
  for (const std::size_t size : {1u, 2u, 3u, 4u, 8u})
    for (const std::size_t n : {8u, 16u, 24u, 32u, 56u, 64u, 72u, 128u, 2048u, 2056u}) {
      Bytes elements(n * size);
      for (unsigned char& byte : elements) byte = static_cast<unsigned char>(random());
      Bytes got(n * size, 0xee);
      planes_to_elements(planes_of(elements, n, size).data(), n, size, got.data());
      EXPECT_EQ(got, elements) << size << " bytes, " << n << " elements";
    }
}

TEST(BitPlanes, AreNarrowedToWhatTheLargestNumberNeeds) {
  std::mt19937 random(6);
  const std::size_t n = 136;
  for (const auto& [top, width] : std::vector<std::pair<std::uint32_t, std::size_t>>{
           {0u, 1}, {1u, 1}, {255u, 1}, {256u, 2}, {65535u, 2}, {65536u, 4}, {4294967295u, 4}}) {
    std::vector<std::uint32_t> numbers(n);
    for (std::uint32_t& x : numbers) x = std::uniform_int_distribution<std::uint32_t>(0, top)(random);
    numbers[n - 1] = top;
    Bytes elements(4 * n);
    std::memcpy(elements.data(), numbers.data(), elements.size());
    std::vector<std::uint32_t> room(n);
    auto* out = reinterpret_cast<unsigned char*>(room.data());
    ASSERT_EQ(planes_to_narrow(planes_of(elements, n, 4).data(), n, out), width) << top;
    for (std::size_t i = 0; i < n; ++i) {
      std::uint32_t got = 0;
      std::memcpy(&got, out + i * width, width);  // the machine's order is the little-endian one
      EXPECT_EQ(got, numbers[i]) << "element " << i << " of numbers up to " << top;
    }
  }
}

}  // namespace
}  // namespace sievelight
