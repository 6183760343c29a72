// SPDX-License-Identifier: GPL-3.0-or-later
/// How HDF5 gets the bytes of a file that is read: by our own driver, which looks at heaps of texts before HDF5 does.
/// HDF5 1.10 copies as many bytes out of such a heap as one of its objects claims, past the end of its buffer: a
/// damaged attribute would end the program or show what else stands in its memory. Found by fuzzing; in damaged files
/// it was three of four deaths of the library. Layout of a heap: HDF5 File Format Specification 3.0, III.E "Global
/// Heap".
#pragma once

#include <hdf5.h>

#include <cstddef>
#include <cstdint>
#include <span>

namespace sievelight {

/// Lets files that are opened with these access properties be read, never written, by the driver. Files that they lead
/// to (external links, virtual data sets) are then read by it too. Hold hdf5_lock().
void set_reading_driver(hid_t file_access);

/// True when a file with these access properties stands on a disk byte for byte: read by the driver, or by HDF5's own.
bool is_plain_file(hid_t file_access);

/// DataError when the driver has refused something since the last call: HDF5 only says that something failed.
void throw_if_read_refused();

/// True when the bytes, which begin with a heap of texts, hold all objects that it lists. Lengths have 8 bytes.
bool is_sound_heap(std::span<const std::uint8_t> heap);

}  // namespace sievelight
