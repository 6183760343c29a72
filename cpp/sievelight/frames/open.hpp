// SPDX-License-Identifier: GPL-3.0-or-later
/// Opening files of detector frames, by their content and not by their suffix.
/// - HDF5/NeXus: 2-D frames and 3-D stacks (first axis = exposures), integers and floats, contiguous or chunked, plain,
///   gzip (with or without byte shuffle) or bitshuffle-LZ4; other filters where the HDF5 library has them;
/// - TIFF: grey pages of one size are a stack; integers of 8 to 64 bits and floats, any compression libtiff knows;
/// - CBF/imgCIF: any compression of the CBF library; dictionary items or the small '#' header;
/// - NPY: plain numbers of 1 to 8 bytes, both orders, never objects;
/// - text: one or two columns, the read-out of a strip.
/// A strip detector's read-out is a frame of one row, a single counter's one of one row and one column. HDF5: a data
/// set of one dimension is a strip, one of two is a stack of strips where its NeXus attribute `interpretation` says
/// "spectrum"; one dimension with "scalar" is a stack of single counts.
/// Masked on reading: the file's pixel_mask and what count_rules.hpp says is no count. A frame without one usable pixel
/// is a DataError, as is one with negative fractions (a dark was subtracted before, the errors of the counts are lost).
#pragma once

#include "sievelight/frames/count_rules.hpp"
#include "sievelight/frames/frame.hpp"
#include "sievelight/frames/stored_stream.hpp"

#include <memory>

namespace sievelight {

struct GivenFrames;

struct OpenOptions {
  std::string dataset;                     // path inside an HDF5 file; empty = find the detector's data by NeXus rules
  std::optional<double> saturation_value;  // counts at or above it in a single exposure are masked; overrides the file
  std::optional<double> exposure_s;        // per exposure; overrides the file
};

/// A file of frames, looked at but not read. It is opened again for every reading, so no file stays open; one that
/// has changed its shape in between is a DataError.
class FrameFile {
 public:
  /// DataError when the file is missing, truncated, or holds no detector frame; the message says what was looked for.
  explicit FrameFile(const std::string& path, const OpenOptions& options = {});
  /// Frames of a format of somebody else's, which a reader outside of this library hands over (given_frames.hpp).
  FrameFile(const std::string& path, const GivenFrames& given, const OpenOptions& options = {});
  ~FrameFile();
  FrameFile(const FrameFile&) = delete;
  FrameFile& operator=(const FrameFile&) = delete;
  FrameFile(FrameFile&&) noexcept;
  FrameFile& operator=(FrameFile&&) noexcept;

  const std::string& path() const;
  const OpenOptions& options() const;
  const std::string& format() const;       // "HDF5", "TIFF", "CBF", "NPY", "text", or what a given reader says
  const std::string& dataset() const;      // where the frames stand in an HDF5 file; empty for other formats
  const std::string& stored_type() const;  // e.g. "int32", "uint16", "float32"
  const std::string& filters() const;      // e.g. "none", "gzip", "shuffle+gzip", "bitshuffle-lz4"
  Eigen::Index count() const;              // number of exposures (1 for a 2-D data set)
  Eigen::Index rows() const;
  Eigen::Index columns() const;
  const FrameMetadata& metadata() const;
  void add_note(const std::string& words);     // to the metadata of the file and of every frame read from it
  const Eigen::VectorXd& exposures_s() const;  // (count) of each exposure; empty when not known
  const Eigen::VectorXd& monitors() const;     // (count) of each exposure; empty when not known

  /// One exposure. InputError when the index is out of range; DataError (file, frame) when it cannot be decoded.
  Frame read(Eigen::Index index) const;
  /// The sum of the exposures listed (empty = all): counts, exposure and monitor add; a pixel masked in any is masked.
  Frame read_sum(const std::vector<Eigen::Index>& indices = {}) const;

  /// The indices as read_sum() takes them: all when empty, in order; InputError as there.
  std::vector<Eigen::Index> require_indices(const std::vector<Eigen::Index>& indices) const;
  /// The stored numbers of the exposures without frames; null where the format has no such way.
  std::unique_ptr<StoredStream> stream() const;
  /// (rows, columns) the file's own mask; empty when it has none.
  const Mask& masked() const;
  /// DataError when an exposure ("Frame 3") held numbers that cannot be counts, from which something was subtracted.
  void require_counts(const std::string& which, const CountTally& tally) const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace sievelight
