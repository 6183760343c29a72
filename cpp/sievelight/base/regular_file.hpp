// SPDX-License-Identifier: GPL-3.0-or-later
/// Whether a path leads to a file that can be read to its end: opening a pipe waits for ever, and a device has no end.
#pragma once

#include <string>

namespace sievelight {

/// DataError when there is no file of that path, or it is a folder, a pipe, a socket or a device.
void require_regular_file(const std::string& path);

}  // namespace sievelight
