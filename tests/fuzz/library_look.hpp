// SPDX-License-Identifier: GPL-3.0-or-later
/// Damaged HDF5 files that end the HDF5 library itself are known and are no finding.
/// HDF5 1.10 follows damaged metadata past its buffers (upstream.txt lists where); nothing outside of the library can
/// see that beforehand, so the readers trust the library there, and harnesses that feed it raw bytes leave such files
/// out: what they look for are defects of ours.
#pragma once

#include <cstddef>
#include <string>

namespace sievelight::fuzz {

/// Copies this process, which has one thread, and in the copy opens the file and walks along its objects through the
/// core's own helpers (attributes, small data sets, places of chunks). False where the copy dies of it or does not end
/// within two seconds: the library's own defect. Not for the program: fork() is only safe where there are no threads.
bool library_survives(const std::string& path);
/// How many files did not pass.
std::size_t left_out();

}  // namespace sievelight::fuzz
