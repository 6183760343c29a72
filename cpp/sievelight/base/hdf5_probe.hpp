// SPDX-License-Identifier: GPL-3.0-or-later
/// A first look at an HDF5 file by a process of its own, which may die of it.
/// HDF5 1.10 reads past its buffers at damaged metadata (heaps, messages, indices); a library cannot mend that from
/// outside, but it can see to it that a broken or hostile file ends a child and not the program.
#pragma once

#include <string>

namespace sievelight {

/// Copies the process (fork), and in the copy opens the file, walks along its objects, and reads attributes, small data
/// sets and the places of chunks. DataError when the copy dies of it or does not end within a minute (or the seconds
/// that SIEVELIGHT_HDF5_PROBE names). The copy makes no further copies and ends with its original. A file that
/// passed is not looked at again while its size, place and time of change are the same. Does nothing where no process
/// can be made, or SIEVELIGHT_HDF5_PROBE is "off". Hold hdf5_lock().
void probe_hdf5(const std::string& path);

}  // namespace sievelight
