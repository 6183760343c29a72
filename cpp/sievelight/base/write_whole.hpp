// SPDX-License-Identifier: GPL-3.0-or-later
/// Files that appear whole or not at all: written beside the final name, flushed to the disk, then renamed, and the
/// folder flushed. A process that is killed or a disk that fills at any moment leaves what stood under the name before.
/// Source: rename() replaces a name in one step (IEEE Std 1003.1-2017, rename); that file and folder are both to be
/// flushed is common practice.
#pragma once

#include <string>
#include <utility>
#include <vector>

namespace sievelight {

/// Writes a file into a folder that is there. What is no regular file (a terminal, a pipe) is written to directly, and
/// a symbolic link keeps pointing where it does. DataError: no right, no space, no such place; says which.
void write_whole(const std::string& path, const std::string& bytes);

/// Several that belong together, (path, bytes): all are on the disk before the first takes its name.
void write_whole(const std::vector<std::pair<std::string, std::string>>& files);

/// Makes a folder and those above it, so that they last over a power cut; one that is there is left. DataError as
/// above.
void make_folders(const std::string& folder);

/// Makes the entries of a folder (new names, lost names) last over a power cut. File systems that cannot are passed
/// over.
void flush_folder(const std::string& folder);

/// Removes what killed writers left in a folder: files named as write_whole() names them before they are whole. Only
/// for who knows that nobody else writes there now. Returns how many; a folder that is not there has none.
int remove_leftovers(const std::string& folder);

}  // namespace sievelight
