// SPDX-License-Identifier: GPL-3.0-or-later
/// Frames in CBF/imgCIF files, with what their headers say: data items of the imgCIF dictionary (version 1.7), or the
/// small header of '#' lines (comment_header.hpp) in _array_data.header_contents.
#pragma once

#include "sievelight/frames/frame_source.hpp"

namespace sievelight {

/// DataError as CbfFile says, and for images whose stored numbers are coded (_array_intensities.linearity).
std::unique_ptr<FrameSource> open_cbf_frames(const std::string& path);

}  // namespace sievelight
