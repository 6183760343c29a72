// SPDX-License-Identifier: GPL-3.0-or-later
/// Where in a file the detector's numbers stand.
/// NeXus: an NXdetector has its numbers in `data`; an NXdata group names them in its attribute `signal`, in old files
/// the data set itself carries signal = 1 (NeXus manual, "Associating plottable data").
#pragma once

#include <hdf5.h>

#include <string>

namespace sievelight {

/// Where the detector's numbers stand: `asked` when not empty, else the `data` of the NXdetector in 2 or 3 dimensions,
/// else the signal of an NXdata group, else the `data` of an NXdetector in 1 dimension (a strip) or 0 (a counter), else
/// the only data set of 2 or 3 dimensions. Other arrays of one dimension are taken only when asked for: most are no
/// counts. DataError that lists the candidates when none or several
/// fit. Hold hdf5_lock().
std::string find_frames(hid_t file, const std::string& path, const std::string& asked);

}  // namespace sievelight
