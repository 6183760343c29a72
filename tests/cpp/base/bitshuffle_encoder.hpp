// SPDX-License-Identifier: GPL-3.0-or-later
/// Writes what the decoders read, as slowly and plainly as it can be written: the layouts of bit_planes.hpp and
/// bitshuffle.hpp. Chunks that another program wrote are read in tests/python/test_frames.py.
#pragma once

#include <lz4.h>

#include <algorithm>
#include <cstddef>
#include <vector>

namespace sievelight::bits {

using Bytes = std::vector<unsigned char>;

/// Bit planes of n elements from the given one on.
inline Bytes planes_of(const Bytes& elements, std::size_t n, std::size_t size, std::size_t first = 0) {
  Bytes out(n * size, 0);
  for (std::size_t e = 0; e < n; ++e)
    for (std::size_t b = 0; b < size; ++b)
      for (std::size_t k = 0; k < 8; ++k)
        if (elements[(first + e) * size + b] >> k & 1) out[(8 * b + k) * (n / 8) + e / 8] |= 1 << (e % 8);
  return out;
}

inline void put_big_endian(Bytes& out, std::size_t value, int bytes) {
  for (int i = bytes - 1; i >= 0; --i) out.push_back(static_cast<unsigned char>(value >> (8 * i)));
}

/// One chunk; `block` elements a block, of which the header says `declared_block`.
inline Bytes encode(const Bytes& in, std::size_t size, std::size_t block, bool lz4, std::size_t declared_block) {
  Bytes out;
  if (lz4) {
    put_big_endian(out, in.size(), 8);
    put_big_endian(out, declared_block * size, 4);
  }
  const std::size_t elements = in.size() / size;
  std::size_t done = 0;
  while (elements - done >= 8) {
    const std::size_t n = std::min(block, (elements - done) / 8 * 8);
    const Bytes planes = planes_of(in, n, size, done);
    if (lz4) {
      Bytes packed(static_cast<std::size_t>(LZ4_compressBound(static_cast<int>(planes.size()))));
      const int length =
          LZ4_compress_default(reinterpret_cast<const char*>(planes.data()), reinterpret_cast<char*>(packed.data()),
                               static_cast<int>(planes.size()), static_cast<int>(packed.size()));
      put_big_endian(out, static_cast<std::size_t>(length), 4);
      out.insert(out.end(), packed.begin(), packed.begin() + length);
    } else {
      out.insert(out.end(), planes.begin(), planes.end());
    }
    done += n;
  }
  out.insert(out.end(), in.begin() + static_cast<std::ptrdiff_t>(done * size), in.end());
  return out;
}

}  // namespace sievelight::bits
