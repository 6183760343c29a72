// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/bitshuffle.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>
#include <lz4.h>

#include <algorithm>
#include <cstdint>
#include <cstring>
#include <vector>

namespace sievelight {
namespace {

constexpr const char* copy_again = "Copy the file again from where it was measured.";

std::uint64_t big_endian(const unsigned char* bytes, int count) {
  std::uint64_t value = 0;
  for (int i = 0; i < count; ++i) value = value << 8 | bytes[i];
  return value;
}

// Transposes an 8 x 8 matrix of bits, byte k bit i <-> byte i bit k. Source: H. S. Warren, Hacker's Delight, 2nd ed.
// 2013, section 7-3 (from memory), with the lowest bit first.
std::uint64_t transpose_bits(std::uint64_t x) {
  std::uint64_t t = (x ^ x >> 7) & 0x00AA00AA00AA00AAu;
  x ^= t ^ t << 7;
  t = (x ^ x >> 14) & 0x0000CCCC0000CCCCu;
  x ^= t ^ t << 14;
  t = (x ^ x >> 28) & 0x00000000F0F0F0F0u;
  return x ^ t ^ t << 28;
}

// One block of n elements (a multiple of 8) of `size` bytes.
void untranspose(const unsigned char* in, std::size_t n, std::size_t size, unsigned char* out) {
  const std::size_t row = n / 8;
  std::memset(out, 0, n * size);
  for (std::size_t byte = 0; byte < size; ++byte) {
    const unsigned char* plane = in + byte * 8 * row;
    // Counts are small: their upper bytes are mostly zero in the whole block.
    if (plane[0] == 0 && std::memcmp(plane, plane + 1, 8 * row - 1) == 0) continue;
    for (std::size_t g = 0; g < row; ++g) {
      std::uint64_t x = 0;
      for (std::size_t k = 0; k < 8; ++k) x |= std::uint64_t{plane[k * row + g]} << (8 * k);
      if (x == 0) continue;
      x = transpose_bits(x);
      unsigned char* to = out + 8 * g * size + byte;
      for (std::size_t i = 0; i < 8; ++i) to[i * size] = static_cast<unsigned char>(x >> (8 * i));
    }
  }
}

// Walks the blocks of a chunk: `block(elements, at)` decodes one to `at`; returns the bytes of the rest.
template <typename Block>
std::size_t for_each_block(std::size_t elements, std::size_t per_block, const Block& block) {
  std::size_t done = 0;
  while (elements - done >= 8) {
    const std::size_t n = std::min(per_block, (elements - done) / 8 * 8);
    block(n, done);
    done += n;
  }
  return done;
}

std::size_t whole_elements(std::size_t bytes, std::size_t element_size) {
  if (element_size == 0 || bytes % element_size != 0)
    throw DataError(fmt::format("{} bytes are no whole number of {}-byte elements", bytes, element_size), copy_again);
  return bytes / element_size;
}

}  // namespace

std::size_t default_block_elements(std::size_t element_size) {
  return std::max<std::size_t>(8192 / element_size / 8 * 8, 128);
}

void decode_bitshuffle_lz4(std::span<const unsigned char> packed, std::size_t element_size,
                           std::span<unsigned char> out) {
  const std::size_t elements = whole_elements(out.size(), element_size);
  if (packed.size() < 12) throw DataError("the compressed chunk ends within its header", copy_again);
  if (const std::uint64_t declared = big_endian(packed.data(), 8); declared != out.size())
    throw DataError(fmt::format("the compressed chunk declares {} bytes where {} belong", declared, out.size()),
                    copy_again);
  const std::size_t block_bytes = big_endian(packed.data() + 8, 4);
  const std::size_t per_block = block_bytes == 0 ? default_block_elements(element_size) : block_bytes / element_size;
  if (per_block == 0 || per_block % 8 != 0 || per_block * element_size > LZ4_MAX_INPUT_SIZE)
    throw DataError(fmt::format("the compressed chunk declares blocks of {} bytes", block_bytes), copy_again);
  std::size_t at = 12;
  std::vector<unsigned char> bits(std::min(per_block, elements) * element_size);
  const std::size_t done = for_each_block(elements, per_block, [&](std::size_t n, std::size_t first) {
    if (packed.size() - at < 4) throw DataError("the compressed chunk ends early", copy_again);
    const std::size_t length = big_endian(packed.data() + at, 4);
    at += 4;
    if (length > packed.size() - at) throw DataError("the compressed chunk ends early", copy_again);
    const int size = static_cast<int>(n * element_size);
    if (LZ4_decompress_safe(reinterpret_cast<const char*>(packed.data() + at), reinterpret_cast<char*>(bits.data()),
                            static_cast<int>(length), size) != size)
      throw DataError(fmt::format("the LZ4 block at byte {} of the chunk is broken", at), copy_again);
    at += length;
    untranspose(bits.data(), n, element_size, out.data() + first * element_size);
  });
  const std::size_t rest = (elements - done) * element_size;
  if (packed.size() - at != rest)
    throw DataError(
        fmt::format("{} bytes stand at the end of the compressed chunk where {} belong", packed.size() - at, rest),
        copy_again);
  std::copy_n(packed.data() + at, rest, out.data() + done * element_size);
}

void decode_bitshuffle(std::span<const unsigned char> packed, std::size_t element_size, std::size_t block_elements,
                       std::span<unsigned char> out) {
  const std::size_t elements = whole_elements(out.size(), element_size);
  if (packed.size() != out.size())
    throw DataError(fmt::format("the chunk holds {} bytes where {} belong", packed.size(), out.size()), copy_again);
  const std::size_t per_block = block_elements == 0 ? default_block_elements(element_size) : block_elements;
  if (per_block % 8 != 0) throw DataError(fmt::format("blocks of {} elements", per_block), copy_again);
  const std::size_t done = for_each_block(elements, per_block, [&](std::size_t n, std::size_t first) {
    untranspose(packed.data() + first * element_size, n, element_size, out.data() + first * element_size);
  });
  std::copy_n(packed.data() + done * element_size, (elements - done) * element_size, out.data() + done * element_size);
}

}  // namespace sievelight
