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

/// Where a chunk's bytes are.
struct FrameData::Stored {
  std::uint64_t offset = 0;  // in the file; 0 = they were read through HDF5
  std::uint64_t bytes = 0;
  unsigned skipped = 0;  // filters not applied
};

struct FrameData::Block : Place {
  Stored stored;
  std::vector<unsigned char> raw, numbers;  // as in the file; decoded
};

}  // namespace sievelight
