// SPDX-License-Identifier: GPL-3.0-or-later
/// Decoder of bitshuffle, with or without LZ4: HDF5 filter 32008 of the HDF Group's register of filters, the usual
/// compression of fast counting detectors. Debian's HDF5 has no plugin for it.
/// Layout of a chunk with LZ4 (from memory; held against chunks that hdf5plugin wrote, tests/python/test_frames.py):
///   8 bytes  size of the decoded chunk in bytes, big-endian
///   4 bytes  size of a block in bytes, big-endian; 0 stands for the default, block_elements()
///   per block: 4 bytes big-endian length, then that many bytes of one LZ4 block. Every block holds the same number of
///   elements, but the last, which holds what is left down to a multiple of 8
///   the at most 7 elements that are left after that, as they are
/// Without LZ4 the header and the lengths are absent. Within a block the bits are transposed as bit_planes.hpp says.
#pragma once

#include <cstddef>
#include <functional>
#include <span>
#include <vector>

namespace sievelight {

/// Elements in a block where the file does not say: 8192 bytes' worth, a multiple of 8, at least 128.
std::size_t default_block_elements(std::size_t element_size);

/// Decodes one chunk into `out`, which has the size the chunk must have. Elements stay in the file's byte order.
/// DataError when the chunk is broken or of another size.
void decode_bitshuffle_lz4(std::span<const unsigned char> packed, std::size_t element_size,
                           std::span<unsigned char> out);
/// The numbers of a chunk of such a size, block by block as they are decoded: take(numbers, width, first element, how
/// many), in order. `narrow` (elements of 4 bytes in the machine's order): with fewer bytes each where these suffice.
/// `scratch` keeps its memory. Raises as decode_bitshuffle_lz4().
using TakeElements = std::function<void(const unsigned char*, std::size_t, std::size_t, std::size_t)>;
void stream_bitshuffle_lz4(std::span<const unsigned char> packed, std::size_t element_size, std::size_t decoded_bytes,
                           bool narrow, std::vector<unsigned char>& scratch, const TakeElements& take);
/// The same as decode_bitshuffle_lz4() without LZ4; `block_elements` as the filter's parameters give it (0 = default).
void decode_bitshuffle(std::span<const unsigned char> packed, std::size_t element_size, std::size_t block_elements,
                       std::span<unsigned char> out);

}  // namespace sievelight
