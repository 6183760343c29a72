// SPDX-License-Identifier: GPL-3.0-or-later
/// Whether a data set may be read: filters, what it draws from other files, and sizes that its stored bytes can hold.
/// HDF5 1.10 trusts a file: it loads plugins to undo unknown filters, takes a chunk's size for what its shape says, and
/// a header of a few hundred bytes may claim any shape. Hold hdf5_lock() around every call.
#pragma once

#include <hdf5.h>

#include <cstdint>
#include <string>

namespace sievelight {

/// The most bytes that `stored` ones are believed to hold: no codec known here packs better than gzip's 1032 to 1 (RFC
/// 1951, 258 bytes in 2 bits); a little is granted to what was never written, which HDF5 reads as zeros.
inline constexpr std::uint64_t most_decoded(std::uint64_t stored) {
  return (stored > (1u << 30) ? 1u << 30 : stored) * 2048 + (1u << 20);
}

/// True for gzip, shuffle and fletcher32, whose chunks can be checked here; true for all where SIEVELIGHT_HDF5_PLUGINS
/// is "allow". A plugin is code of others, which HDF5 would load because a file names it; and HDF5's own szip, n-bit
/// and scale-offset filters give chunks of another size than their shape's where a file wants it, past whose end
/// HDF5 1.10 then reads (found by fuzzing).
bool may_use_filter(H5Z_filter_t id);

/// DataError unless the data set may be read through HDF5: require_inside(), filters that may be used, a size that the
/// stored bytes can hold, and chunks (as far as decode_chunk() knows their filters) that decode to the size of their
/// shape.
void require_readable(hid_t set, const std::string& label);

/// DataError unless `bytes` are at most most_decoded() of what is stored for the data set.
void require_stored(std::uint64_t bytes, std::uint64_t stored, const std::string& label);

/// Bytes that are stored for the chunk that begins at `at`; 0 where it was never written or cannot be looked up.
/// `filtered`: the data set has filters. Without them H5Dget_chunk_storage_size tells what the shape says and not what
/// the file says, and HDF5 1.10 then reads past one buffer or the other.
std::uint64_t stored_chunk_bytes(hid_t set, const hsize_t* at, bool filtered);

}  // namespace sievelight
