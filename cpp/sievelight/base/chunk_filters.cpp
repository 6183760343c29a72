// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/chunk_filters.hpp"

#include "sievelight/base/bitshuffle.hpp"
#include "sievelight/base/error.hpp"

#include <fmt/format.h>
#include <libdeflate.h>

#include <algorithm>
#include <array>
#include <map>
#include <memory>
#include <new>

namespace sievelight {
namespace {

// Number in the HDF Group's register of filters (hdf5plugin writes with the same).
constexpr H5Z_filter_t bitshuffle_id = 32008;
// The filter's fifth parameter (from memory, as above): 0 = bitshuffle only, 2 = LZ4, 3 = Zstandard.
enum class Packing : unsigned { none = 0, lz4 = 2, zstd = 3 };

// Short names from the HDF Group's register; the names that writers store are often sentences.
std::string short_name(const ChunkFilter& filter) {
  static const std::map<H5Z_filter_t, std::string> registered{{32000, "lzf"}, {32001, "blosc"}, {32004, "lz4"},
                                                              {32013, "zfp"}, {32015, "zstd"},  {32026, "blosc2"}};
  if (const auto found = registered.find(filter.id); found != registered.end()) return found->second;
  return filter.name.empty() ? fmt::format("filter {}", filter.id) : filter.name.substr(0, filter.name.find(';'));
}

unsigned parameter(const ChunkFilter& filter, std::size_t index) {
  return index < filter.parameters.size() ? filter.parameters[index] : 0;
}

bool known(const ChunkFilter& filter) {
  if (filter.id == bitshuffle_id) {
    const unsigned packing = parameter(filter, 4);
    return packing == static_cast<unsigned>(Packing::none) || packing == static_cast<unsigned>(Packing::lz4);
  }
  return filter.id == H5Z_FILTER_DEFLATE || filter.id == H5Z_FILTER_SHUFFLE;
}

// HDF5's byte shuffle: all first bytes, then all second bytes, ...; a rest that fills no element is left as it is.
void unshuffle(std::span<const unsigned char> in, std::size_t element_size, std::span<unsigned char> out) {
  const std::size_t n = in.size() / element_size;
  for (std::size_t byte = 0; byte < element_size; ++byte)
    for (std::size_t i = 0; i < n; ++i) out[i * element_size + byte] = in[byte * n + i];
  std::copy(in.begin() + static_cast<std::ptrdiff_t>(n * element_size), in.end(),
            out.begin() + static_cast<std::ptrdiff_t>(n * element_size));
}

// libdeflate needs the whole chunk at once, which we have, and takes about half of zlib's time.
void inflate(std::span<const unsigned char> in, std::span<unsigned char> out) {
  struct Free {
    void operator()(libdeflate_decompressor* d) const { libdeflate_free_decompressor(d); }
  };
  thread_local const std::unique_ptr<libdeflate_decompressor, Free> decompressor(libdeflate_alloc_decompressor());
  if (!decompressor) throw std::bad_alloc();
  // Without a place for the size the whole of `out` must be filled.
  if (libdeflate_zlib_decompress(decompressor.get(), in.data(), in.size(), out.data(), out.size(), nullptr) !=
      LIBDEFLATE_SUCCESS)
    throw DataError("the gzip data of the chunk are broken", "Copy the file again from where it was measured.");
}

void undo(const ChunkFilter& filter, std::span<const unsigned char> in, std::size_t element_size,
          std::span<unsigned char> out) {
  constexpr const char* copy_again = "Copy the file again from where it was measured.";
  if (filter.id == bitshuffle_id) {
    if (parameter(filter, 4) == static_cast<unsigned>(Packing::lz4))
      return decode_bitshuffle_lz4(in, element_size, out);
    return decode_bitshuffle(in, element_size, parameter(filter, 3), out);
  }
  if (filter.id == H5Z_FILTER_DEFLATE) {
    return inflate(in, out);
  }
  if (in.size() != out.size())
    throw DataError(fmt::format("the chunk holds {} bytes where {} belong", in.size(), out.size()), copy_again);
  unshuffle(in, element_size, out);
}

}  // namespace

std::vector<ChunkFilter> read_filters(hid_t creation_properties) {
  std::vector<ChunkFilter> filters;
  const int count = H5Pget_nfilters(creation_properties);
  for (int i = 0; i < count; ++i) {
    std::array<unsigned, 32> parameters{};
    std::array<char, 128> label{};
    std::size_t n = parameters.size();
    unsigned flags = 0, config = 0;
    const H5Z_filter_t id = H5Pget_filter2(creation_properties, static_cast<unsigned>(i), &flags, &n, parameters.data(),
                                           label.size(), label.data(), &config);
    n = std::min(n, parameters.size());
    label.back() = '\0';
    filters.push_back({id, label.data(), {parameters.begin(), parameters.begin() + static_cast<std::ptrdiff_t>(n)}});
  }
  return filters;
}

std::string describe(const std::vector<ChunkFilter>& filters) {
  std::string text;
  for (const ChunkFilter& filter : filters) {
    if (!text.empty()) text += '+';
    const unsigned packing = parameter(filter, 4);
    if (filter.id == H5Z_FILTER_DEFLATE)
      text += "gzip";
    else if (filter.id == H5Z_FILTER_SHUFFLE)
      text += "shuffle";
    else if (filter.id != bitshuffle_id)
      text += short_name(filter);
    else if (packing == static_cast<unsigned>(Packing::none))
      text += "bitshuffle";
    else if (packing == static_cast<unsigned>(Packing::lz4))
      text += "bitshuffle-lz4";
    else if (packing == static_cast<unsigned>(Packing::zstd))
      text += "bitshuffle-zstd";
    else
      text += fmt::format("bitshuffle with compression {}", packing);
  }
  return text.empty() ? "none" : text;
}

bool can_decode(const std::vector<ChunkFilter>& filters) {
  // A filter that changes the size must be the last: then every buffer in between has the chunk's size.
  for (std::size_t i = 0; i < filters.size(); ++i) {
    const bool keeps_size =
        filters[i].id == H5Z_FILTER_SHUFFLE || (filters[i].id == bitshuffle_id && parameter(filters[i], 4) == 0);
    if (!known(filters[i]) || (!keeps_size && i + 1 < filters.size())) return false;
  }
  return true;
}

void decode_chunk(const std::vector<ChunkFilter>& filters, unsigned skipped, std::vector<unsigned char>& raw,
                  std::size_t element_size, std::span<unsigned char> out) {
  std::vector<const ChunkFilter*> applied;
  for (std::size_t i = 0; i < filters.size(); ++i)
    if (i >= 32 || !(skipped >> i & 1u)) applied.push_back(&filters[i]);
  // All but the first filter undo into a buffer that becomes the next one's input; can_decode() allows only the last to
  // change the size.
  std::vector<unsigned char> next;
  for (std::size_t i = applied.size(); i-- > 1;) {
    next.resize(out.size());
    undo(*applied[i], raw, element_size, next);
    raw.swap(next);
  }
  if (!applied.empty()) return undo(*applied.front(), raw, element_size, out);
  if (raw.size() != out.size())
    throw DataError(fmt::format("the chunk holds {} bytes where {} belong", raw.size(), out.size()),
                    "Copy the file again from where it was measured.");
  std::copy(raw.begin(), raw.end(), out.begin());
}

void stream_chunk(const std::vector<ChunkFilter>& filters, unsigned skipped, std::vector<unsigned char>& raw,
                  std::size_t element_size, std::size_t decoded_bytes, bool narrow, std::vector<unsigned char>& buffer,
                  const TakeElements& take) {
  const bool lz4 = filters.size() == 1 && filters[0].id == bitshuffle_id &&
                   parameter(filters[0], 4) == static_cast<unsigned>(Packing::lz4);
  if (lz4 && !(skipped & 1u))
    return stream_bitshuffle_lz4(raw, element_size, decoded_bytes, narrow && element_size == 4, buffer, take);
  if (filters.empty() && raw.size() == decoded_bytes)
    return take(raw.data(), element_size, 0, decoded_bytes / element_size);
  buffer.resize(decoded_bytes);
  decode_chunk(filters, skipped, raw, element_size, buffer);
  take(buffer.data(), element_size, 0, decoded_bytes / element_size);
}

}  // namespace sievelight
