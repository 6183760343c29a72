// SPDX-License-Identifier: GPL-3.0-or-later
/// What an HDF5 file may draw in from other files.
/// External links, virtual data sets and external storage name other files; in a stranger's file that may be any file
/// of this machine. Rule: what is named lies in the folder of the file that names it, or below (links of the file
/// system followed), and is a regular file; or it lies below a folder of SIEVELIGHT_TRUSTED_FOLDERS (separated by ':'),
/// or below one that HDF5's own variables (HDF5_EXT_PREFIX, HDF5_VDS_PREFIX, HDF5_EXTFILE_PREFIX) name. All else is
/// refused before it is opened. Hold hdf5_lock() around every call.
#pragma once

#include <hdf5.h>

#include <cstdint>
#include <string>

namespace sievelight {

/// Property lists to open objects with: an external link, however deep in a path, is followed only where the rule
/// allows it. Never closed.
hid_t h5_link_access();
hid_t h5_group_access();
hid_t h5_dataset_access();

/// DataError when a link has been refused since the last call, so that the refusal is told and not taken for an absent
/// object.
void throw_if_link_refused();

/// DataError unless every file that a data set draws from, directly or through another virtual data set, may be used,
/// and (virtual) is there. Gives the bytes stored for it in all of them.
std::uint64_t require_inside(hid_t set, const std::string& label);

}  // namespace sievelight
