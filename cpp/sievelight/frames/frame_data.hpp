// SPDX-License-Identifier: GPL-3.0-or-later
/// The numbers of a stack of frames in an HDF5 data set, read and added up.
/// Chunks are read raw under HDF5's lock and decoded outside of it on all cores; other layouts go through HDF5.
#pragma once

#include "sievelight/base/chunk_filters.hpp"
#include "sievelight/base/hdf5.hpp"
#include "sievelight/base/image.hpp"
#include "sievelight/frames/count_rules.hpp"

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

 private:
  struct Place;
  struct Block;
  void read_raw(Block& block) const;
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
};

}  // namespace sievelight
