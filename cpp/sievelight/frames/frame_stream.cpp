// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/frame_stream.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/hdf5_guard.hpp"
#include "sievelight/frames/frame_place.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cstring>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr const char* copy_again = "Copy the file again from where it was measured; leave the frame out if it is lost.";
// Uncompressed numbers are read in pieces that stay in a core's second cache until they are added up.
constexpr std::size_t piece_bytes = 128 * 1024;

class Hdf5Stream : public StoredStream {
 public:
  Hdf5Stream(const std::string& path, const std::string& where)
      : file_(h5_open(path)), data_(file_.get(), path, where), type_(data_.stream_type()) {}
  const StoredType& type() const override { return type_; }
  Index together() const override { return data_.together(); }
  void read(Index exposure, Buffers& buffers, const Take& take) const override {
    data_.stream(exposure, buffers, take);
  }
  void fill(Index exposure, Buffers& buffers, unsigned char* out) const override { data_.fill(exposure, buffers, out); }

 private:
  H5Handle file_;
  FrameData data_;
  StoredType type_;
};

}  // namespace

std::unique_ptr<StoredStream> stream_hdf5(const std::string& path, const std::string& where) {
  return std::make_unique<Hdf5Stream>(path, where);
}

// Where a chunk stands; reads it at once where only HDF5 can. Takes HDF5's lock.
FrameData::Stored FrameData::find(const Place& place, std::vector<unsigned char>& raw) const {
  const hsize_t offset[3] = {static_cast<hsize_t>(place.first), static_cast<hsize_t>(place.row),
                             static_cast<hsize_t>(place.column)};
  hsize_t at[3] = {};
  for (std::size_t i = 0; i < axes_.size(); ++i) at[i] = offset[axes_[i]];
  const auto lock = hdf5_lock();
  Stored out;
  hsize_t size = 0;
#if H5_VERSION_GE(1, 10, 5)
  haddr_t address = HADDR_UNDEF;
  if (raw_file_ && H5Dget_chunk_info_by_coord(set_.get(), at, &out.skipped, &address, &size) >= 0 &&
      address != HADDR_UNDEF)
    out.offset = address;
#endif
  if (out.offset == 0) size = stored_chunk_bytes(set_.get(), at, !filters_.empty());
  if (size == 0)
    throw DataError(fmt::format("Frame {} of '{}' was never written (no chunk is stored for it).", place.first, path_),
                    "The measurement or the copy ended before it: leave the frame out, or copy the file again.");
  const std::size_t decoded = static_cast<std::size_t>(place.exposures * place.rows * place.columns) * type_.size;
  if (size > 2 * decoded + 65536 || decoded > most_decoded(size))
    throw DataError(
        fmt::format("Frame {} of '{}' claims {} compressed bytes for {}.", place.first, path_, size, decoded),
        copy_again);
  out.bytes = size;
  if (out.offset == 0) {
    raw.resize(size);
    std::uint32_t skipped = 0;
    if (H5Dread_chunk(set_.get(), H5P_DEFAULT, at, &skipped, raw.data()) < 0)
      throw DataError(fmt::format("Frame {} of '{}' cannot be read.", place.first, path_), copy_again);
    out.skipped = skipped;
  }
  const bool partial = place.first + place.exposures > count_ || place.row + place.rows > rows_ ||
                       place.column + place.columns > columns_;
  if (partial && partial_unfiltered_) out.skipped = ~0u;
  return out;
}

// Reads what find() has not; without a lock.
void FrameData::fetch(const Place& place, const Stored& stored, std::vector<unsigned char>& raw) const {
  if (stored.offset == 0) return;
  raw.resize(stored.bytes);
  if (!raw_file_.read(stored.offset, raw.data(), raw.size()))
    throw DataError(fmt::format("Frame {} of '{}' cannot be read.", place.first, path_), copy_again);
}

void FrameData::refuse(const Place& place, const std::string& problem) const {
  const Index last = std::min(place.first + place.exposures, count_) - 1;
  throw DataError(
      fmt::format("Frame {}{} of '{}' cannot be decoded ({}): {}.", place.first,
                  last > place.first ? fmt::format(" to {}", last) : "", path_, describe(filters_), problem),
      copy_again);
}

StoredType FrameData::stream_type() const {
  StoredType type = type_;
  type.swapped = type_.swapped && (raw_chunks_ || plain_at_ != 0);
  return type;
}

void FrameData::stream(Index exposure, StoredStream::Buffers& buffers, const StoredStream::Take& take) const {
  if (raw_chunks_ && chunk_[0] == 1 && chunk_[2] == columns_) return stream_rows(exposure, buffers, take);
  const Index pixels = rows_ * columns_;
  if (plain_at_ != 0)
    return stream_bytes(
        exposure, plain_at_ + static_cast<std::uint64_t>(exposure) * static_cast<std::uint64_t>(pixels) * type_.size, 0,
        pixels, buffers, take);
  take({layer_of(exposure, buffers), type_.size, 0, pixels});
}

void FrameData::fill(Index exposure, StoredStream::Buffers& buffers, unsigned char* out) const {
  const std::size_t row_bytes = static_cast<std::size_t>(columns_) * type_.size,
                    bytes = static_cast<std::size_t>(rows_) * row_bytes;
  if (plain_at_ != 0) {
    if (!raw_file_.read(plain_at_ + static_cast<std::uint64_t>(exposure) * bytes, out, bytes))
      throw DataError(fmt::format("Frame {} of '{}' cannot be read.", exposure, path_), copy_again);
    return;
  }
  if (!raw_chunks_ || chunk_[0] != 1 || chunk_[2] != columns_ || rows_ % chunk_[1] != 0) {
    std::memcpy(out, layer_of(exposure, buffers), bytes);
    return;
  }
  for (Index row = 0; row < rows_; row += chunk_[1]) {  // whole chunks go where they belong
    const Place place{exposure, row, 0, 1, chunk_[1], columns_};
    const Stored stored = find(place, buffers.raw);
    fetch(place, stored, buffers.raw);
    try {
      decode_chunk(filters_, stored.skipped, buffers.raw, type_.size,
                   {out + static_cast<std::size_t>(row) * row_bytes, static_cast<std::size_t>(chunk_[1]) * row_bytes});
    } catch (const DataError& error) {
      refuse(place, error.problem());
    }
  }
}

// Chunks of whole rows of one exposure: their numbers come in the order of the pixels.
void FrameData::stream_rows(Index exposure, StoredStream::Buffers& buffers, const StoredStream::Take& take) const {
  const bool narrow = !type_.swapped && type_.kind != NumberKind::f32 && std::endian::native == std::endian::little;
  for (Index row = 0; row < rows_; row += chunk_[1]) {
    const Place place{exposure, row, 0, 1, chunk_[1], columns_};
    const Index rows_here = std::min(chunk_[1], rows_ - row);  // the last chunk may reach beyond the frame
    const Stored stored = find(place, buffers.raw);
    if (filters_.empty() && stored.offset != 0 &&
        stored.bytes >= static_cast<std::size_t>(rows_here * columns_) * type_.size) {
      stream_bytes(exposure, stored.offset, row * columns_, rows_here * columns_, buffers, take);
      continue;
    }
    fetch(place, stored, buffers.raw);
    const std::size_t decoded = static_cast<std::size_t>(chunk_[1] * columns_) * type_.size;
    const Index here = rows_here * columns_;
    try {
      stream_chunk(filters_, stored.skipped, buffers.raw, type_.size, decoded, narrow, buffers.numbers,
                   [&](const unsigned char* numbers, std::size_t width, std::size_t first, std::size_t n) {
                     const Index at = static_cast<Index>(first), some = std::min(static_cast<Index>(n), here - at);
                     if (some > 0) take({numbers, width, row * columns_ + at, some});
                   });
    } catch (const DataError& error) {
      refuse(place, error.problem());
    }
  }
}

// Uncompressed numbers, n of them from the pixel `first_pixel` on, that stand in the file at `offset`.
void FrameData::stream_bytes(Index exposure, std::uint64_t offset, Index first_pixel, Index n,
                             StoredStream::Buffers& buffers, const StoredStream::Take& take) const {
  const auto piece = static_cast<Index>(piece_bytes / type_.size);
  buffers.raw.resize(piece_bytes);
  for (Index done = 0; done < n; done += piece) {
    const Index some = std::min(piece, n - done);
    if (!raw_file_.read(offset + static_cast<std::uint64_t>(done) * type_.size, buffers.raw.data(),
                        static_cast<std::size_t>(some) * type_.size))
      throw DataError(fmt::format("Frame {} of '{}' cannot be read.", exposure, path_), copy_again);
    take({buffers.raw.data(), type_.size, first_pixel + done, some});
  }
}

// One exposure as a whole, for other layouts. Exposures that share chunks are decoded together and kept.
const unsigned char* FrameData::layer_of(Index exposure, StoredStream::Buffers& buffers) const {
  const std::size_t row_bytes = static_cast<std::size_t>(columns_) * type_.size,
                    frame_bytes = static_cast<std::size_t>(rows_) * row_bytes;
  if (!raw_chunks_) {
    Block block;
    block.first = exposure;
    block.numbers.swap(buffers.numbers);
    read_converted(block);
    block.numbers.swap(buffers.numbers);
    return buffers.numbers.data();
  }
  const Index layer = exposure / chunk_[0], low = layer * chunk_[0], high = std::min(low + chunk_[0], count_);
  if (buffers.layer_index != layer) {
    buffers.layer_index = -1;
    buffers.layer.resize(frame_bytes * static_cast<std::size_t>(high - low));
    Block block;
    for (Index row = 0; row < rows_; row += chunk_[1])
      for (Index column = 0; column < columns_; column += chunk_[2]) {
        static_cast<Place&>(block) = {low, row, column, chunk_[0], chunk_[1], chunk_[2]};
        block.stored = find(block, block.raw);
        fetch(block, block.stored, block.raw);
        decode(block);
        const Index rows = std::min(chunk_[1], rows_ - row), columns = std::min(chunk_[2], columns_ - column);
        for (Index e = 0; e < high - low; ++e)
          for (Index r = 0; r < rows; ++r)
            std::memcpy(buffers.layer.data() + static_cast<std::size_t>(e) * frame_bytes +
                            static_cast<std::size_t>(row + r) * row_bytes +
                            static_cast<std::size_t>(column) * type_.size,
                        block.numbers.data() + static_cast<std::size_t>((e * chunk_[1] + r) * chunk_[2]) * type_.size,
                        static_cast<std::size_t>(columns) * type_.size);
      }
    buffers.layer_index = layer;
  }
  return buffers.layer.data() + static_cast<std::size_t>(exposure - low) * frame_bytes;
}

}  // namespace sievelight
