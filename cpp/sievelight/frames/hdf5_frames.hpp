// SPDX-License-Identifier: GPL-3.0-or-later
/// Frames in HDF5/NeXus files.
#pragma once

#include "sievelight/frames/frame_source.hpp"

namespace sievelight {

/// Opens the data set `dataset` (empty = by NeXus rules, find_frames.hpp). DataError when there is none to be read.
std::unique_ptr<FrameSource> open_hdf5_frames(const std::string& path, const std::string& dataset);

}  // namespace sievelight
