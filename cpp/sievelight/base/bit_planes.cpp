// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/bit_planes.hpp"

#include "sievelight/base/every_cpu.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cstdint>
#include <cstring>

#if defined(__x86_64__) && defined(__GNUC__)
#include <immintrin.h>
#define SIEVELIGHT_X86 1
#endif

namespace sievelight {
namespace {

// Elements handled at a time between the planes and the result.
constexpr std::size_t group = 64;

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

// One byte of n elements from its eight planes, `row` bytes each, of which bit k of `used` says whether plane k holds
// anything; n is a multiple of 8.
void byte_portable(const unsigned char* planes, std::size_t row, unsigned used, std::size_t n, unsigned char* out) {
  for (std::size_t g = 0; g < n / 8; ++g) {
    std::uint64_t x = 0;
    for (std::size_t k = 0; k < 8; ++k)
      if (used >> k & 1u) x |= std::uint64_t{planes[k * row + g]} << (8 * k);
    x = transpose_bits(x);
    for (std::size_t i = 0; i < 8; ++i) out[8 * g + i] = static_cast<unsigned char>(x >> (8 * i));
  }
}

using MakeByte = void (*)(const unsigned char*, std::size_t, unsigned, std::size_t, unsigned char*);

#ifdef SIEVELIGHT_X86
// 64 bits of a plane choose among 64 bytes which ones get bit k.
__attribute__((target("avx512f,avx512bw"))) void byte_avx512(const unsigned char* planes, std::size_t row,
                                                             unsigned used, std::size_t n, unsigned char* out) {
  std::size_t e = 0;
  for (; e + 64 <= n; e += 64) {
    __m512i byte = _mm512_setzero_si512();
    for (unsigned k = 0; k < 8; ++k) {
      if (!(used >> k & 1u)) continue;
      std::uint64_t bits;
      std::memcpy(&bits, planes + k * row + e / 8, 8);
      byte = _mm512_or_si512(byte, _mm512_maskz_set1_epi8(bits, static_cast<char>(1u << k)));
    }
    _mm512_storeu_si512(out + e, byte);
  }
  if (e < n) byte_portable(planes + e / 8, row, used, n - e, out + e);
}

// 32 bits of a plane are spread over 32 bytes, each of which looks at its own bit.
__attribute__((target("avx2"))) void byte_avx2(const unsigned char* planes, std::size_t row, unsigned used,
                                               std::size_t n, unsigned char* out) {
  const __m256i spread =
      _mm256_setr_epi8(0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 2, 2, 2, 3, 3, 3, 3, 3, 3, 3, 3);
  const __m256i own = _mm256_set1_epi64x(static_cast<long long>(0x8040201008040201u));
  std::size_t e = 0;
  for (; e + 32 <= n; e += 32) {
    __m256i byte = _mm256_setzero_si256();
    for (unsigned k = 0; k < 8; ++k) {
      if (!(used >> k & 1u)) continue;
      std::int32_t bits;
      std::memcpy(&bits, planes + k * row + e / 8, 4);
      const __m256i mine = _mm256_and_si256(_mm256_shuffle_epi8(_mm256_set1_epi32(bits), spread), own);
      const __m256i set = _mm256_cmpeq_epi8(mine, own);
      byte = _mm256_or_si256(byte, _mm256_and_si256(set, _mm256_set1_epi8(static_cast<char>(1u << k))));
    }
    _mm256_storeu_si256(reinterpret_cast<__m256i*>(out + e), byte);
  }
  if (e < n) byte_portable(planes + e / 8, row, used, n - e, out + e);
}
#endif

MakeByte best() {
#ifdef SIEVELIGHT_X86
  if (__builtin_cpu_supports("avx512bw")) return byte_avx512;
  if (__builtin_cpu_supports("avx2")) return byte_avx2;
#endif
  return byte_portable;
}

// All bits of n bytes together.
SIEVELIGHT_EVERY_CPU std::uint64_t any_bits(const unsigned char* bytes, std::size_t n) {
  std::uint64_t all = 0;
  std::size_t i = 0;
  for (; i + 8 <= n; i += 8) {
    std::uint64_t word;
    std::memcpy(&word, bytes + i, 8);
    all |= word;
  }
  for (; i < n; ++i) all |= bytes[i];
  return all;
}

// Which of eight planes hold anything.
unsigned used_planes(const unsigned char* planes, std::size_t row) {
  if (any_bits(planes, 8 * row) == 0) return 0;
  unsigned used = 0;
  for (unsigned k = 0; k < 8; ++k)
    if (any_bits(planes + k * row, row) != 0) used |= 1u << k;
  return used;
}

// Elements of T from their bytes, which stand one after the other, n each; the upper bytes may be missing (null).
template <typename T>
SIEVELIGHT_EVERY_CPU void join_bytes(const std::array<const unsigned char*, 4>& bytes, std::size_t n,
                                     unsigned char* out) {
  T* to = reinterpret_cast<T*>(out);
  const unsigned char *a = bytes[0], *b = bytes[1], *c = bytes[2], *d = bytes[3];
  if constexpr (sizeof(T) == 2) {
    for (std::size_t i = 0; i < n; ++i) to[i] = static_cast<T>(a[i] | b[i] << 8);
  } else {
    if (!b && !c && !d)
      for (std::size_t i = 0; i < n; ++i) to[i] = a[i];
    else if (!c && !d)
      for (std::size_t i = 0; i < n; ++i) to[i] = static_cast<T>(a[i]) | static_cast<T>(b[i]) << 8;
    else
      for (std::size_t i = 0; i < n; ++i)
        to[i] =
            static_cast<T>(a[i]) | static_cast<T>(b[i]) << 8 | static_cast<T>(c[i]) << 16 | static_cast<T>(d[i]) << 24;
  }
}

// The bytes of a block of 4-byte elements, a group at a time: use(first, count, bytes).
template <typename Use>
void for_groups(const unsigned char* planes, std::size_t n, const std::array<unsigned, 4>& used, std::size_t width,
                const Use& use) {
  static const MakeByte make_byte = best();
  const std::size_t row = n / 8;
  alignas(64) unsigned char made[4][group];
  for (std::size_t e = 0; e < n; e += group) {
    const std::size_t count = std::min(group, n - e);
    std::array<const unsigned char*, 4> bytes{};
    for (std::size_t b = 0; b < width; ++b) {
      make_byte(planes + 8 * b * row + e / 8, row, used[b], count, made[b]);
      bytes[b] = made[b];
    }
    use(e, count, bytes);
  }
}

std::array<unsigned, 4> used_of_four(const unsigned char* planes, std::size_t n) {
  std::array<unsigned, 4> used{};
  for (std::size_t b = 0; b < 4; ++b) used[b] = used_planes(planes + b * n, n / 8);
  return used;
}

std::size_t bytes_needed(const std::array<unsigned, 4>& used) { return used[3] || used[2] ? 4 : used[1] ? 2 : 1; }

}  // namespace

void planes_to_elements(const unsigned char* planes, std::size_t n, std::size_t size, unsigned char* out) {
  static const MakeByte make_byte = best();
  const std::size_t row = n / 8;
  if (size == 1) return make_byte(planes, row, used_planes(planes, row), n, out);
  if (size == 4 && std::endian::native == std::endian::little && reinterpret_cast<std::uintptr_t>(out) % 4 == 0) {
    const std::array<unsigned, 4> used = used_of_four(planes, n);
    return for_groups(planes, n, used, bytes_needed(used),
                      [&](std::size_t first, std::size_t count, const auto& bytes) {
                        join_bytes<std::uint32_t>(bytes, count, out + 4 * first);
                      });
  }
  std::memset(out, 0, n * size);
  unsigned char made[group];
  for (std::size_t b = 0; b < size; ++b) {
    const unsigned char* eight = planes + 8 * b * row;
    const unsigned used = used_planes(eight, row);
    for (std::size_t e = 0; used != 0 && e < n; e += group) {
      const std::size_t count = std::min(group, n - e);
      make_byte(eight + e / 8, row, used, count, made);
      for (std::size_t i = 0; i < count; ++i) out[(e + i) * size + b] = made[i];
    }
  }
}

std::size_t planes_to_narrow(const unsigned char* planes, std::size_t n, unsigned char* out) {
  static const MakeByte make_byte = best();
  const std::array<unsigned, 4> used = used_of_four(planes, n);
  const std::size_t width = bytes_needed(used);
  if (width == 1) {
    make_byte(planes, n / 8, used[0], n, out);
    return 1;
  }
  for_groups(planes, n, used, width, [&](std::size_t first, std::size_t count, const auto& bytes) {
    if (width == 2)
      join_bytes<std::uint16_t>(bytes, count, out + 2 * first);
    else
      join_bytes<std::uint32_t>(bytes, count, out + 4 * first);
  });
  return width;
}

}  // namespace sievelight
