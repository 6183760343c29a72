// SPDX-License-Identifier: GPL-3.0-or-later
/// Frames that a reader outside of this library hands over, exposure by exposure: a format that the library does not
/// know. What is a count, what is masked and how exposures add up is the same as for every other format (open.hpp).
#pragma once

#include "sievelight/frames/frame.hpp"

#include <functional>
#include <memory>
#include <string>

namespace sievelight {

class FrameSource;

struct GivenFrames {
  std::string format;       // what the reader calls its format
  std::string stored_type;  // "int8", "uint8", ... "uint64", "float32", "float64"; in the machine's byte order
  Eigen::Index count = 0, rows = 0, columns = 0;
  FrameMetadata metadata;
  Eigen::VectorXd exposures_s;  // (count) seconds of each exposure; empty when not known
  Eigen::VectorXd monitors;     // (count) of each exposure; empty when not known
  Mask masked;                  // (rows, columns) pixels never to use; empty when there are none
  /// The rows x columns numbers of one exposure, row by row. Called once for each exposure that is read, in the thread
  /// that reads; what it throws reaches the caller of read().
  std::function<std::shared_ptr<const void>(Eigen::Index)> fetch;
};

/// DataError naming `path` where the shapes do not fit together, a time or monitor is not positive, or the number type
/// is none of the ten.
std::unique_ptr<FrameSource> open_given_frames(const std::string& path, const GivenFrames& given);

}  // namespace sievelight
