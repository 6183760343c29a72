// SPDX-License-Identifier: GPL-3.0-or-later
/// The numbers of a stack of frames in an HDF5 data set, read and added up.
/// Chunks are read raw under HDF5's lock and decoded outside of it on all cores; other layouts go through HDF5.
#pragma once

#include "sievelight/base/chunk_filters.hpp"
#include "sievelight/base/hdf5.hpp"
#include "sievelight/base/image.hpp"
#include "sievelight/frames/count_rules.hpp"
#include "sievelight/frames/raw_file.hpp"
#include "sievelight/frames/stored_stream.hpp"

namespace sievelight {

class FrameData {
 public:
  /// Opens a data set of 0 to 3 dimensions: (exposures, rows, columns) or (rows, columns); one dimension is a strip of
  /// one row, none a single count. Its NeXus attribute `interpretation` may say otherwise: "spectrum" makes two
  /// dimensions (exposures, columns), "scalar" makes one a stack of single counts. DataError naming `path` and `where`
  /// when its shape, type or filters do not serve.
  FrameData(hid_t file, const std::string& path, const std::string& where);

  Eigen::Index count() const { return count_; }
  Eigen::Index rows() const { return rows_; }
  Eigen::Index columns() const { return columns_; }
  const StoredType& type() const { return type_; }
  std::string filters() const { return describe(filters_); }

  /// Sums the exposures listed (rising, in range, at least one) into `counts`, and marks in `masked` (rows, columns)
  /// what is no count in any of them.
  /// DataError naming the file and the frame when one cannot be read or decoded.
  CountTally sum(const std::vector<Eigen::Index>& indices, double saturation, Image& counts, Mask& masked) const;

  /// Hands out the numbers of one exposure in order, as StoredStream says; several threads may call it at once.
  void stream(Eigen::Index exposure, StoredStream::Buffers& buffers, const StoredStream::Take& take) const;
  /// Writes them to `out`, all at once.
  void fill(Eigen::Index exposure, StoredStream::Buffers& buffers, unsigned char* out) const;
  /// The type of what stream() hands out: other than the stored one where HDF5 had to convert.
  StoredType stream_type() const;
  /// Exposures in one chunk.
  Eigen::Index together() const { return raw_chunks_ ? chunk_[0] : 1; }

 private:
  struct Place;
  struct Block;
  struct Stored;
  Stored find(const Place& place, std::vector<unsigned char>& raw) const;
  void fetch(const Place& place, const Stored& stored, std::vector<unsigned char>& raw) const;
  void stream_rows(Eigen::Index exposure, StoredStream::Buffers& buffers, const StoredStream::Take& take) const;
  void stream_bytes(Eigen::Index exposure, std::uint64_t offset, Eigen::Index first_pixel, Eigen::Index n,
                    StoredStream::Buffers& buffers, const StoredStream::Take& take) const;
  const unsigned char* layer_of(Eigen::Index exposure, StoredStream::Buffers& buffers) const;
  [[noreturn]] void refuse(const Place& place, const std::string& problem) const;
  void decode(Block& block) const;
  void read_converted(Block& block) const;
  CountTally add_blocks(const std::vector<Block>& blocks, const std::vector<Eigen::Index>& indices, double saturation,
                        bool first, Image& counts, Mask& masked) const;

  std::string path_, where_;
  H5Handle set_;
  Eigen::Index count_ = 1, rows_ = 0, columns_ = 0;
  std::vector<std::size_t> axes_;  // which of exposures (0), rows (1), columns (2) each dimension of the data set is
  StoredType type_;
  std::vector<ChunkFilter> filters_;
  bool raw_chunks_ = false, partial_unfiltered_ = false;
  Eigen::Index chunk_[3] = {1, 0, 0};  // exposures, rows, columns
  RawFile raw_file_;                   // closed where bytes have to be read through HDF5
  std::uint64_t plain_at_ = 0;         // where an uncompressed, contiguous data set begins in it; 0 = it is not
};

}  // namespace sievelight
