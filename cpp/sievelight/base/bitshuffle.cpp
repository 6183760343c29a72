// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/bitshuffle.hpp"

#include "sievelight/base/bit_planes.hpp"
#include "sievelight/base/error.hpp"

#include <fmt/format.h>
#include <lz4.h>

#include <algorithm>
#include <cstdint>
#include <vector>

namespace sievelight {
namespace {

constexpr const char* copy_again = "Copy the file again from where it was measured.";

std::uint64_t big_endian(const unsigned char* bytes, int count) {
  std::uint64_t value = 0;
  for (int i = 0; i < count; ++i) value = value << 8 | bytes[i];
  return value;
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

// Walks the LZ4 blocks of a chunk: use(planes, elements, first) for each, tail(bytes, first) for what is left.
template <typename Use, typename Tail>
void walk_lz4(std::span<const unsigned char> packed, std::size_t element_size, std::size_t decoded_bytes,
              std::vector<unsigned char>& bits, const Use& use, const Tail& tail) {
  const std::size_t elements = whole_elements(decoded_bytes, element_size);
  if (packed.size() < 12) throw DataError("the compressed chunk ends within its header", copy_again);
  if (const std::uint64_t declared = big_endian(packed.data(), 8); declared != decoded_bytes)
    throw DataError(fmt::format("the compressed chunk declares {} bytes where {} belong", declared, decoded_bytes),
                    copy_again);
  const std::size_t block_bytes = big_endian(packed.data() + 8, 4);
  const std::size_t per_block = block_bytes == 0 ? default_block_elements(element_size) : block_bytes / element_size;
  if (per_block == 0 || per_block % 8 != 0 || per_block * element_size > LZ4_MAX_INPUT_SIZE)
    throw DataError(fmt::format("the compressed chunk declares blocks of {} bytes", block_bytes), copy_again);
  std::size_t at = 12;
  bits.resize(std::min(per_block, elements) * element_size);
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
    use(bits.data(), n, first);
  });
  const std::size_t rest = (elements - done) * element_size;
  if (packed.size() - at != rest)
    throw DataError(
        fmt::format("{} bytes stand at the end of the compressed chunk where {} belong", packed.size() - at, rest),
        copy_again);
  tail(packed.subspan(at), done);
}

}  // namespace

std::size_t default_block_elements(std::size_t element_size) {
  return std::max<std::size_t>(8192 / element_size / 8 * 8, 128);
}

void decode_bitshuffle_lz4(std::span<const unsigned char> packed, std::size_t element_size,
                           std::span<unsigned char> out) {
  std::vector<unsigned char> bits;
  walk_lz4(
      packed, element_size, out.size(), bits,
      [&](const unsigned char* planes, std::size_t n, std::size_t first) {
        planes_to_elements(planes, n, element_size, out.data() + first * element_size);
      },
      [&](std::span<const unsigned char> rest, std::size_t first) {
        std::copy(rest.begin(), rest.end(), out.begin() + static_cast<std::ptrdiff_t>(first * element_size));
      });
}

void stream_bitshuffle_lz4(std::span<const unsigned char> packed, std::size_t element_size, std::size_t decoded_bytes,
                           bool narrow, std::vector<unsigned char>& scratch, const TakeElements& take) {
  std::vector<unsigned char> numbers;
  walk_lz4(
      packed, element_size, decoded_bytes, scratch,
      [&](const unsigned char* planes, std::size_t n, std::size_t first) {
        if (numbers.size() < n * element_size) numbers.resize(n * element_size);
        std::size_t width = element_size;
        if (narrow)
          width = planes_to_narrow(planes, n, numbers.data());
        else
          planes_to_elements(planes, n, element_size, numbers.data());
        take(numbers.data(), width, first, n);
      },
      [&](std::span<const unsigned char> rest, std::size_t first) {
        if (rest.empty()) return;
        numbers.assign(rest.begin(), rest.end());  // where elements are aligned
        take(numbers.data(), element_size, first, rest.size() / element_size);
      });
}

void decode_bitshuffle(std::span<const unsigned char> packed, std::size_t element_size, std::size_t block_elements,
                       std::span<unsigned char> out) {
  const std::size_t elements = whole_elements(out.size(), element_size);
  if (packed.size() != out.size())
    throw DataError(fmt::format("the chunk holds {} bytes where {} belong", packed.size(), out.size()), copy_again);
  const std::size_t per_block = block_elements == 0 ? default_block_elements(element_size) : block_elements;
  if (per_block % 8 != 0) throw DataError(fmt::format("blocks of {} elements", per_block), copy_again);
  const std::size_t done = for_each_block(elements, per_block, [&](std::size_t n, std::size_t first) {
    planes_to_elements(packed.data() + first * element_size, n, element_size, out.data() + first * element_size);
  });
  std::copy_n(packed.data() + done * element_size, (elements - done) * element_size, out.data() + done * element_size);
}

}  // namespace sievelight
