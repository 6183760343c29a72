// SPDX-License-Identifier: GPL-3.0-or-later
/// The filters of an HDF5 data set, and decoding of raw chunks without HDF5's lock, from any thread.
#pragma once

#include "sievelight/base/bitshuffle.hpp"

#include <hdf5.h>

#include <cstddef>
#include <span>
#include <string>
#include <vector>

namespace sievelight {

struct ChunkFilter {
  H5Z_filter_t id = 0;
  std::string name;
  std::vector<unsigned> parameters;
};

/// The filters of a data set's creation properties, in the order in which they were applied. Hold hdf5_lock().
std::vector<ChunkFilter> read_filters(hid_t creation_properties);

/// "none", "gzip", "shuffle+gzip", "bitshuffle", "bitshuffle-lz4", ...; others by the name the file gives them.
std::string describe(const std::vector<ChunkFilter>& filters);

/// True when decode_chunk() knows all of them.
bool can_decode(const std::vector<ChunkFilter>& filters);

/// Undoes the filters, last first; bit i of `skipped` set = filter i was not applied to this chunk. `out` has the size
/// the chunk must have. DataError when the chunk is broken or of another size.
void decode_chunk(const std::vector<ChunkFilter>& filters, unsigned skipped, std::vector<unsigned char>& raw,
                  std::size_t element_size, std::span<unsigned char> out);

/// The same piece by piece: hands out the chunk's elements in order, as soon as they are decoded, where the filters
/// allow; else all at once. `element_size` bytes each, or fewer where `narrow` and the upper ones are zero. The buffers
/// keep their memory.
void stream_chunk(const std::vector<ChunkFilter>& filters, unsigned skipped, std::vector<unsigned char>& raw,
                  std::size_t element_size, std::size_t decoded_bytes, bool narrow, std::vector<unsigned char>& buffer,
                  const TakeElements& take);

}  // namespace sievelight
