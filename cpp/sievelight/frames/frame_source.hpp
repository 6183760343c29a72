// SPDX-License-Identifier: GPL-3.0-or-later
/// What a file format must offer to be opened as frames; open.hpp holds what is common to all of them.
/// One file a format: hdf5_frames, tiff_frames, cbf_frames, npy_frames, text_frames.
#pragma once

#include "sievelight/frames/count_rules.hpp"
#include "sievelight/frames/frame.hpp"
#include "sievelight/frames/stored_stream.hpp"

#include <cstdint>
#include <memory>

namespace sievelight {

/// Where the frames stand in their file and how they are stored.
struct FrameLayout {
  std::string format;   // "HDF5", "TIFF", "CBF", "NPY", "text"
  std::string dataset;  // of HDF5; empty for the others
  std::string stored_type, filters;
  Eigen::Index count = 0, rows = 0, columns = 0;
  bool operator==(const FrameLayout&) const = default;
};

/// What a file says about its frames, beside the numbers.
struct FrameFacts {
  FrameMetadata metadata;
  Eigen::VectorXd exposures_s;  // (count) of each exposure; empty when the file does not say
  Eigen::VectorXd monitors;     // (count) of each exposure; empty when the file does not say
  Mask masked;                  // (rows, columns) pixel_mask; empty when there is none
};

class FrameSource {
 public:
  virtual ~FrameSource() = default;
  FrameLayout layout;
  FrameFacts facts;

  /// Opens the file again and sums the exposures listed (rising, in range, at least one) into `counts`, which it
  /// makes (rows, columns); marks in `masked`, which has that shape, what is no count in any of them. DataError when
  /// the file cannot be read or has changed.
  virtual CountTally sum(const std::vector<Eigen::Index>& indices, double saturation, Image& counts,
                         Mask& masked) const = 0;

  /// The stored numbers without frames; null where a format has no such way (average_each() then reads frames).
  virtual std::unique_ptr<StoredStream> stream() const { return nullptr; }
};

/// DataError when a frame of that size is beyond all reason: 2^28 pixels (2 GB of doubles), 2^24 exposures.
void require_sensible_size(const std::string& path, std::uint64_t count, std::uint64_t rows, std::uint64_t columns);

/// Throws the DataError of a file that has changed since it was opened.
[[noreturn]] void throw_changed(const std::string& path);

/// Adds one exposure, stored row by row in `stored`, to counts and masked of the same shape; on all cores.
CountTally add_frame(const StoredType& type, const unsigned char* stored, double saturation, Image& counts,
                     Mask& masked);

/// "int32", "uint16", "float64" as a type whose numbers are stored plainly; `swapped` = not in the machine's byte
/// order.
StoredType plain_type(NumberKind kind, bool swapped);

/// Stored numbers as doubles, in order; out has `n` places.
void to_doubles(const StoredType& type, const unsigned char* stored, std::size_t n, double* out);

/// The printable ASCII characters of a text from a file, at most `most`, for messages and notes.
std::string printable(const std::string& text, std::size_t most = 200);

}  // namespace sievelight
