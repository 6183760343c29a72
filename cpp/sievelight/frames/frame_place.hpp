// SPDX-License-Identifier: GPL-3.0-or-later
/// Where a block of numbers stands in a stack; for the files of FrameData only.
#pragma once

#include "sievelight/frames/frame_data.hpp"

#include <vector>

namespace sievelight {

/// Some exposures of a rectangle of the frame.
struct FrameData::Place {
  Eigen::Index first = 0, row = 0, column = 0;        // of the block's first number
  Eigen::Index exposures = 1, rows = 0, columns = 0;  // extent as stored, beyond the frame's edge too
};

struct FrameData::Block : Place {
  unsigned skipped = 0;                     // filters not applied
  std::vector<unsigned char> raw, numbers;  // as in the file; decoded
};

/// Where a chunk's bytes are.
struct FrameData::Stored {
  hsize_t at[3] = {};        // the chunk's first number, in the data set's dimensions
  std::uint64_t offset = 0;  // in the file; 0 = only HDF5 knows
  std::uint64_t bytes = 0;
  unsigned skipped = 0;  // filters not applied
};

}  // namespace sievelight
