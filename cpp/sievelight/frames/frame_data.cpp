// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/frame_place.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/hdf5_driver.hpp"
#include "sievelight/base/hdf5_guard.hpp"
#include "sievelight/base/hdf5_outside.hpp"
#include "sievelight/base/parallel.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <limits>

namespace sievelight {
namespace {

using Eigen::Index;

// Bounds on what a header may claim: 268 million pixels a frame (2 GB of doubles), 1 GB a decoded chunk.
constexpr hsize_t most_pixels = hsize_t{1} << 28;
constexpr hsize_t most_chunk_bytes = hsize_t{1} << 30;
constexpr hsize_t most_exposures = hsize_t{1} << 24, most_unwritten = hsize_t{1} << 16;
// Chunks of one exposure: a chunk of a single number would cost more to list than to read.
constexpr Index most_chunks = Index{1} << 16;
// Decoded bytes held at a time, beyond one chunk a thread.
constexpr std::size_t batch_bytes = std::size_t{1} << 25;

constexpr const char* copy_again = "Copy the file again from where it was measured; leave the frame out if it is lost.";

// HDF5 would load a plugin to undo a filter that it does not know, because the file names it: only where that is
// allowed.
void require_filters(const std::vector<ChunkFilter>& filters, const std::string& label) {
  if (can_decode(filters)) return;
  for (const ChunkFilter& filter : filters)
    if (!may_use_filter(filter.id) || H5Zfilter_avail(filter.id) <= 0)
      throw DataError(
          fmt::format("{} is compressed with {} (HDF5 filter {}), which is not known here.", label, describe({filter}),
                      filter.id),
          "Save it again with gzip or bitshuffle-LZ4, on a machine that has the filter: h5repack -f GZIP=4 in.h5 "
          "out.h5.");
}

// NeXus manual, NXdata: interpretation = scalar, spectrum or image says what the fastest dimensions of the data are.
std::vector<std::size_t> axes_of(std::size_t dimensions, const std::string& interpretation) {
  if (dimensions == 3) return {0, 1, 2};
  if (dimensions == 2)
    return interpretation == "spectrum" ? std::vector<std::size_t>{0, 2} : std::vector<std::size_t>{1, 2};
  if (dimensions == 1) return {interpretation == "scalar" ? std::size_t{0} : std::size_t{2}};
  return {};
}

// HDF5 shows what was never written as zeros: as frames without counts.
void require_written(hid_t set, const std::string& label) {
  H5D_space_status_t status = H5D_SPACE_STATUS_ERROR;
  if (H5Dget_space_status(set, &status) >= 0 && status == H5D_SPACE_STATUS_NOT_ALLOCATED)
    throw DataError(fmt::format("{} was never written.", label),
                    "The measurement was stopped before its first frame, or the file was closed too early.");
}

// The file in which a data set stands, for reading past HDF5. A link may lead to another file than the one opened.
RawFile open_raw(hid_t set) {
  const H5Handle file(H5Iget_file_id(set), H5Fclose);
  const H5Handle access(H5Fget_access_plist(file.get()), H5Pclose);
  const H5Handle creation(H5Fget_create_plist(file.get()), H5Pclose);
  hsize_t user_block = 1;
  unsigned intent = H5F_ACC_RDWR;  // what was written may not stand in the file yet
  if (H5Fget_intent(file.get(), &intent) < 0 || intent & H5F_ACC_RDWR || !is_plain_file(access.get()) ||
      H5Pget_userblock(creation.get(), &user_block) < 0 || user_block != 0)
    return {};
  const ssize_t length = H5Fget_name(file.get(), nullptr, 0);
  if (length <= 0) return {};
  std::string name(static_cast<std::size_t>(length) + 1, '\0');
  H5Fget_name(file.get(), name.data(), name.size());
  name.pop_back();
  return RawFile(name);
}

}  // namespace

FrameData::FrameData(hid_t file, const std::string& path, const std::string& where) : path_(path), where_(where) {
  const auto lock = hdf5_lock();
  const std::string label = fmt::format("The data set '{}' in '{}'", where, path);
  set_ = h5_dataset(file, where);
  if (!set_)
    throw DataError(fmt::format("There is no data set '{}' in '{}'.", where, path),
                    "Leave the option dataset away to have it found, or list the file's content with h5ls -r.");
  const std::vector<hsize_t> shape = h5_shape(set_.get());
  const std::string interpretation = h5_attribute(set_.get(), "interpretation").value_or("");
  axes_ = axes_of(shape.size(), interpretation);
  if (axes_.size() != shape.size())
    throw DataError(fmt::format("{} has {} dimensions ({}).", label, shape.size(), fmt::join(shape, " x ")),
                    "A frame has 2 dimensions (rows, columns), a stack 3 with the exposures first; name another data "
                    "set with the option dataset.");
  hsize_t extent[3] = {1, 1, 1};
  for (std::size_t i = 0; i < shape.size(); ++i) extent[axes_[i]] = shape[i];
  const auto [frames, rows, columns] = extent;
  if (frames == 0 || rows == 0 || columns == 0)
    throw DataError(fmt::format("{} is empty ({}).", label, fmt::join(shape, " x ")),
                    "The measurement was stopped before its first frame, or the file was closed too early.");
  if (rows > most_pixels / columns || frames > most_exposures)
    throw DataError(fmt::format("{} claims {} pixels.", label, fmt::join(shape, " x ")), copy_again);
  count_ = static_cast<Index>(frames);
  rows_ = static_cast<Index>(rows);
  columns_ = static_cast<Index>(columns);
  const H5Handle type(H5Dget_type(set_.get()), H5Tclose);
  type_ = describe_type(type.get(), label);
  const H5Handle properties(H5Dget_create_plist(set_.get()), H5Pclose);
  const H5D_layout_t layout = H5Pget_layout(properties.get());
  filters_ = read_filters(properties.get());
  require_filters(filters_, label);
  const std::uint64_t stored = require_inside(set_.get(), label);
  if (layout == H5D_CHUNKED || layout == H5D_CONTIGUOUS) require_written(set_.get(), label);
  require_stored(rows * columns * type_.size, stored, label);
  // A stack may be longer than what was measured of it, but not beyond all reason.
  if (frames > most_unwritten + 64 * stored)
    throw DataError(fmt::format("{} claims {} exposures and holds {} bytes.", label, frames, stored), copy_again);
  if (layout != H5D_VIRTUAL) raw_file_ = open_raw(set_.get());
  if (layout == H5D_CONTIGUOUS && type_.plain && raw_file_) {
    const haddr_t at = H5Dget_offset(set_.get());
    if (at != HADDR_UNDEF) plain_at_ = at;
  }
  if (layout != H5D_CHUNKED) return;
  if (!type_.plain && H5Zfilter_avail(32008) <= 0 && describe(filters_).find("bitshuffle") != std::string::npos)
    throw DataError(fmt::format("{} holds numbers of an unusual layout under bitshuffle.", label),
                    "Save it again as 32-bit integers.");
  hsize_t chunk[3] = {1, 1, 1};
  hsize_t stored_chunk[3] = {1, 1, 1};
  H5Pget_chunk(properties.get(), static_cast<int>(shape.size()), stored_chunk);
  for (std::size_t i = 0; i < shape.size(); ++i) chunk[axes_[i]] = stored_chunk[i];
  unsigned options = 0;
  H5Pget_chunk_opts(properties.get(), &options);
  partial_unfiltered_ = options & H5D_CHUNK_DONT_FILTER_PARTIAL_CHUNKS;
  hsize_t bytes = type_.size;
  for (int i = 0; i < 3; ++i) {
    if (chunk[i] == 0 || chunk[i] > most_chunk_bytes / bytes)
      throw DataError(fmt::format("{} claims chunks of {} x {} x {} numbers.", label, chunk[0], chunk[1], chunk[2]),
                      "Save it again with one frame a chunk.");
    bytes *= chunk[i];
    chunk_[i] = static_cast<Index>(chunk[i]);
  }
  if ((rows_ / chunk_[1] + 1) > most_chunks / (columns_ / chunk_[2] + 1))
    throw DataError(fmt::format("{} has chunks of {} x {} x {} numbers, more than {} in a frame.", label, chunk[0],
                                chunk[1], chunk[2], most_chunks),
                    "Save it again with one frame a chunk.");
  // Exposures that share chunks are decoded together.
  require_stored(std::min(frames, chunk[0]) * rows * columns * type_.size, stored, label);
  raw_chunks_ = type_.plain && can_decode(filters_);
  if (!raw_chunks_) require_readable(set_.get(), label);
}

void FrameData::decode(Block& block) const {
  block.numbers.resize(static_cast<std::size_t>(block.exposures * block.rows * block.columns) * type_.size);
  try {
    decode_chunk(filters_, block.stored.skipped, block.raw, type_.size, block.numbers);
  } catch (const DataError& error) {
    refuse(block, error.problem());
  }
}

void FrameData::read_converted(Block& block) const {
  const auto lock = hdf5_lock();
  const hsize_t from[3] = {static_cast<hsize_t>(block.first), 0, 0};
  const hsize_t size[3] = {1, static_cast<hsize_t>(rows_), static_cast<hsize_t>(columns_)};
  const H5Handle file_space(H5Dget_space(set_.get()), H5Sclose);
  H5Handle memory_space(H5Screate(H5S_SCALAR), H5Sclose);
  if (!axes_.empty()) {
    hsize_t start[3] = {}, extent[3] = {};
    for (std::size_t i = 0; i < axes_.size(); ++i) {
      start[i] = from[axes_[i]];
      extent[i] = size[axes_[i]];
    }
    memory_space = H5Handle(H5Screate_simple(static_cast<int>(axes_.size()), extent, nullptr), H5Sclose);
    H5Sselect_hyperslab(file_space.get(), H5S_SELECT_SET, start, nullptr, extent, nullptr);
  }
  block.numbers.resize(static_cast<std::size_t>(rows_ * columns_) * type_.size);
  if (H5Dread(set_.get(), type_.native, memory_space.get(), file_space.get(), H5P_DEFAULT, block.numbers.data()) < 0)
    throw DataError(fmt::format("Frame {} of '{}' cannot be read ({}).", block.first, path_, describe(filters_)),
                    copy_again);
}

CountTally FrameData::add_blocks(const std::vector<Block>& blocks, const std::vector<Index>& indices, double saturation,
                                 bool first, Image& counts, Mask& masked) const {
  // Bands of rows belong to one thread each, and within a band the blocks come in file order: the sum does not depend
  // on the number of threads.
  StoredType type = type_;
  type.swapped = raw_chunks_ && type_.swapped;
  const Index band = std::max<Index>(1, std::min<Index>(64, rows_ / 4));
  const auto bands = static_cast<std::size_t>((rows_ + band - 1) / band);
  std::vector<CountTally> tallies(bands);
  parallel_for(bands, [&](std::size_t b) {
    const Index low = static_cast<Index>(b) * band, high = std::min(rows_, low + band);
    if (first) counts.middleRows(low, high - low).setZero();  // here: in the thread's cache, and on all cores
    for (const Block& block : blocks) {
      const Index row_low = std::max(low, block.row), row_high = std::min(high, block.row + block.rows);
      const auto width = static_cast<std::size_t>(std::min(block.columns, columns_ - block.column));
      const auto end = std::lower_bound(indices.begin(), indices.end(), block.first + block.exposures);
      for (auto index = std::lower_bound(indices.begin(), indices.end(), block.first); index != end; ++index)
        for (Index row = row_low; row < row_high; ++row) {
          const Index number = ((*index - block.first) * block.rows + row - block.row) * block.columns;
          add_counts(type, block.numbers.data() + static_cast<std::size_t>(number) * type.size, width, saturation,
                     &counts(row, block.column), &masked(row, block.column), tallies[b]);
        }
    }
  });
  CountTally total;
  for (const CountTally& tally : tallies) total += tally;
  return total;
}

CountTally FrameData::sum(const std::vector<Index>& indices, double saturation, Image& counts, Mask& masked) const {
  counts.resize(rows_, columns_);
  std::vector<Place> jobs;
  if (raw_chunks_) {
    Index layer = -1;
    for (const Index index : indices) {
      if (index / chunk_[0] == layer) continue;
      layer = index / chunk_[0];
      for (Index row = 0; row < rows_; row += chunk_[1])
        for (Index column = 0; column < columns_; column += chunk_[2])
          jobs.push_back({layer * chunk_[0], row, column, chunk_[0], chunk_[1], chunk_[2]});
    }
  } else {
    for (const Index index : indices) jobs.push_back({index, 0, 0, 1, rows_, columns_});
  }
  const std::size_t block_bytes =
      static_cast<std::size_t>(raw_chunks_ ? chunk_[0] * chunk_[1] * chunk_[2] : rows_ * columns_) * type_.size;
  const std::size_t at_once =
      raw_chunks_ ? std::max<std::size_t>(thread_count(), batch_bytes / block_bytes) : std::size_t{1};
  CountTally total;
  std::vector<Block> batch;
  for (std::size_t done = 0; done < jobs.size(); done += batch.size()) {
    const std::size_t n = std::min(at_once, jobs.size() - done);
    batch.resize(n);  // keeps the buffers of the last batch
    for (std::size_t i = 0; i < n; ++i) static_cast<Place&>(batch[i]) = jobs[done + i];
    if (raw_chunks_) {
      // HDF5 is asked by this thread alone, which may hold its lock already.
      for (Block& block : batch) block.stored = find(block, block.raw);
      parallel_for(n, [&](std::size_t i) {
        fetch(batch[i], batch[i].stored, batch[i].raw);
        decode(batch[i]);
      });
    } else {
      read_converted(batch.front());
    }
    total += add_blocks(batch, indices, saturation, done == 0, counts, masked);
  }
  return total;
}

}  // namespace sievelight
