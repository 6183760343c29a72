// SPDX-License-Identifier: GPL-3.0-or-later
/// The exposures of an HDF5 data set as a StoredStream.
/// Bytes are read past HDF5, from the places in the file that it names, so that threads need not wait for its lock;
/// where that is not possible (a file of several parts, a user block, an unusual layout), through HDF5.
#pragma once

#include "sievelight/frames/frame_data.hpp"
#include "sievelight/frames/stored_stream.hpp"

#include <memory>
#include <string>

namespace sievelight {

/// `file` stays open as long as the stream. DataError as FrameData.
std::unique_ptr<StoredStream> stream_hdf5(const std::string& path, const std::string& where);

}  // namespace sievelight
