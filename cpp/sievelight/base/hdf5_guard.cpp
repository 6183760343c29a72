// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/hdf5_guard.hpp"

#include "sievelight/base/chunk_filters.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/hdf5.hpp"
#include "sievelight/base/hdf5_outside.hpp"

#include <fmt/format.h>

#include <cstdlib>
#include <string_view>
#include <vector>

namespace sievelight {
namespace {

constexpr const char* copy_again = "Check that the file was copied completely, or write it again.";
constexpr std::uint64_t most_chunks = 1 << 16, most_chunk_bytes = std::uint64_t{1} << 30;
// Where chunks have no filter, looking one up walks along all of them.
constexpr std::uint64_t most_unfiltered_chunks = 1 << 13;

// fletcher32 stands behind the data as a checksum of 4 bytes, where it is the last filter.
bool drop_checksum(std::vector<ChunkFilter>& filters) {
  if (filters.empty() || filters.back().id != H5Z_FILTER_FLETCHER32) return false;
  filters.pop_back();
  return true;
}

class Chunks {
 public:
  Chunks(hid_t set, hid_t properties, const std::string& label) : set_(set), label_(label), shape_(h5_shape(set)) {
    chunk_.resize(shape_.size());
    H5Pget_chunk(properties, static_cast<int>(chunk_.size()), chunk_.data());
    const H5Handle type(H5Dget_type(set), H5Tclose);
    element_ = H5Tget_size(type.get());
    std::uint64_t chunks = 1;
    bytes_ = element_;
    for (std::size_t i = 0; i < chunk_.size(); ++i) {
      if (chunk_[i] == 0 || chunk_[i] > most_chunk_bytes / bytes_) fail("claims chunks beyond all reason");
      bytes_ *= chunk_[i];
      const std::uint64_t along = shape_[i] / chunk_[i] + (shape_[i] % chunk_[i] != 0);
      if (along > most_chunks / chunks) fail(fmt::format("claims more than {} chunks", most_chunks));
      chunks *= along == 0 ? 1 : along;
    }
    filters_ = read_filters(properties);
    if (filters_.empty() && chunks > most_unfiltered_chunks)
      fail(fmt::format("claims more than {} chunks", most_unfiltered_chunks));
    checksum_ = drop_checksum(filters_);
    unsigned options = 0;
    H5Pget_chunk_opts(properties, &options);
    partial_unfiltered_ = options & H5D_CHUNK_DONT_FILTER_PARTIAL_CHUNKS;
  }

  // HDF5 copies as many bytes out of a decoded chunk as its shape says, whether or not it has them.
  void check() {
    if (!can_decode(filters_)) {
      if (may_use_filter(H5Z_FILTER_RESERVED)) return;  // all is allowed
      fail(fmt::format("has filters in an order that is not known here ({})", describe(filters_)));
    }
    for (const hsize_t n : shape_)
      if (n == 0) return;
    std::vector<hsize_t> at(shape_.size(), 0);
    while (true) {
      check_one(at);
      std::size_t i = at.size();
      while (i-- > 0) {
        at[i] += chunk_[i];
        if (at[i] < shape_[i]) break;
        at[i] = 0;
      }
      if (i == std::size_t(-1)) return;
    }
  }

 private:
  [[noreturn]] void fail(const std::string& what) const {
    throw DataError(fmt::format("{} {}.", label_, what), copy_again);
  }

  void check_one(const std::vector<hsize_t>& at) {
    const std::uint64_t stored = stored_chunk_bytes(set_, at.data(), !filters_.empty() || checksum_);
    if (stored == 0) return;  // never written: zeros
    if (stored > 2 * bytes_ + 65536 || bytes_ > most_decoded(stored)) fail("has a chunk of a size that cannot be");
    raw_.resize(stored);
    std::uint32_t skipped = 0;
    if (H5Dread_chunk(set_, H5P_DEFAULT, at.data(), &skipped, raw_.data()) < 0) fail("cannot be read");
    bool partial = false;
    for (std::size_t i = 0; i < at.size(); ++i) partial = partial || at[i] + chunk_[i] > shape_[i];
    if (partial && partial_unfiltered_) skipped = ~0u;
    if (checksum_ && !(skipped >> filters_.size() & 1u)) {
      if (raw_.size() < 4) fail("has a chunk without its checksum");
      raw_.resize(raw_.size() - 4);
    }
    out_.resize(bytes_);
    try {
      decode_chunk(filters_, skipped, raw_, element_, out_);
    } catch (const DataError& error) {
      fail("is broken: " + error.problem());
    }
  }

  hid_t set_;
  const std::string& label_;
  std::vector<hsize_t> shape_, chunk_;
  std::size_t element_ = 0;
  std::uint64_t bytes_ = 0;
  std::vector<ChunkFilter> filters_;
  bool checksum_ = false, partial_unfiltered_ = false;
  std::vector<unsigned char> raw_, out_;
};

}  // namespace

bool may_use_filter(H5Z_filter_t id) {
  const char* allowed = std::getenv("SIEVELIGHT_HDF5_PLUGINS");
  return id == H5Z_FILTER_DEFLATE || id == H5Z_FILTER_SHUFFLE || id == H5Z_FILTER_FLETCHER32 ||
         (allowed && std::string_view(allowed) == "allow");
}

std::uint64_t stored_chunk_bytes(hid_t set, const hsize_t* at, bool filtered) {
  hsize_t bytes = 0;
  if (filtered) return H5Dget_chunk_storage_size(set, at, &bytes) < 0 ? 0 : bytes;
  unsigned skipped = 0;
  haddr_t address = HADDR_UNDEF;
  return H5Dget_chunk_info_by_coord(set, at, &skipped, &address, &bytes) < 0 ? 0 : bytes;
}

void require_stored(std::uint64_t bytes, std::uint64_t stored, const std::string& label) {
  if (bytes > most_decoded(stored))
    throw DataError(fmt::format("{} claims {} bytes of numbers, and {} are stored for them.", label, bytes, stored),
                    copy_again);
}

void require_readable(hid_t set, const std::string& label) {
  const std::uint64_t stored = require_inside(set, label);
  const H5Handle space(H5Dget_space(set), H5Sclose), type(H5Dget_type(set), H5Tclose);
  const H5Handle properties(H5Dget_create_plist(set), H5Pclose);
  const hssize_t points = H5Sget_simple_extent_npoints(space.get());
  const std::uint64_t n = points > 0 ? static_cast<std::uint64_t>(points) : 0, size = H5Tget_size(type.get());
  if (size == 0 || n > (std::uint64_t{1} << 40) / size)
    throw DataError(fmt::format("{} claims {} numbers of {} bytes.", label, n, size), copy_again);
  require_stored(n * size, stored, label);
  for (const ChunkFilter& filter : read_filters(properties.get()))
    if (!may_use_filter(filter.id))
      throw DataError(fmt::format("{} is compressed with {} (HDF5 filter {}), which is not known here.", label,
                                  describe({filter}), filter.id),
                      "Save it again with gzip: h5repack -f GZIP=4 in.h5 out.h5. Where you trust the file and the "
                      "filter's plugin, set the environment variable SIEVELIGHT_HDF5_PLUGINS to allow.");
  const H5D_layout_t layout = H5Pget_layout(properties.get());
  if (layout == H5D_CHUNKED) Chunks(set, properties.get(), label).check();
  // A compact or contiguous data set that holds less than its shape says; zero is one that was never written.
  if ((layout == H5D_COMPACT || layout == H5D_CONTIGUOUS) && stored != 0 && stored < n * size)
    throw DataError(fmt::format("{} needs {} bytes and holds {}.", label, n * size, stored), copy_again);
}

}  // namespace sievelight
