// SPDX-License-Identifier: GPL-3.0-or-later
/// What a NeXus file says about its frames: the geometry, the times, the monitor, the mask.
/// Field names: NeXus base classes NXdetector, NXmonitor, NXmonochromator, NXbeam, NXsample and the application
/// definition NXsas (nexusformat.org), read from memory and from the two example files that the tests use.
#pragma once

#include "sievelight/base/hdf5.hpp"
#include "sievelight/frames/frame_source.hpp"

namespace sievelight {

/// Reads what belongs to the data set `where` of (count, rows, columns) numbers. Hold hdf5_lock().
FrameFacts read_nexus(hid_t file, const std::string& where, Eigen::Index count, Eigen::Index rows,
                      Eigen::Index columns);

}  // namespace sievelight
