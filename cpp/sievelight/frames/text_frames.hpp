// SPDX-License-Identifier: GPL-3.0-or-later
/// The read-out of a strip detector as plain text: one column of counts, or two columns, position or channel and
/// counts.
#pragma once

#include "sievelight/frames/frame_source.hpp"

namespace sievelight {

/// One row of as many columns as the file has lines of numbers. Empty lines, lines that begin with #, %, !, or //, and
/// lines of words above the first number are passed over; a header of '#' lines (comment_header.hpp) is read.
/// DataError (file, line) for other numbers of columns, words between numbers, and a first column that does not rise.
std::unique_ptr<FrameSource> open_text_frames(const std::string& path);

}  // namespace sievelight
