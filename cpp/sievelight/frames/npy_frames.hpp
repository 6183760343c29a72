// SPDX-License-Identifier: GPL-3.0-or-later
/// Frames in NPY files: (rows, columns), or a stack (exposures, rows, columns); one dimension is a strip of one row,
/// none a single counter.
#pragma once

#include "sievelight/frames/frame_source.hpp"

namespace sievelight {

/// DataError as read_npy_header() says, for more than three dimensions and for booleans (a mask).
std::unique_ptr<FrameSource> open_npy_frames(const std::string& path);

/// One array of (rows, columns), booleans too, as doubles: for masks.
Image read_npy_image(const std::string& path);

}  // namespace sievelight
