// SPDX-License-Identifier: GPL-3.0-or-later
/// Frames in TIFF files: one page is one exposure.
#pragma once

#include "sievelight/frames/frame_source.hpp"

namespace sievelight {

/// DataError when the file is broken or holds no grey image (tiff_pages.hpp). The description is noted; where it holds
/// a header of '#' lines (comment_header.hpp), that is read, since every line of it names its unit.
std::unique_ptr<FrameSource> open_tiff_frames(const std::string& path);

}  // namespace sievelight
