// SPDX-License-Identifier: GPL-3.0-or-later
/// A detector frame (or the sum of several) and what its file says about it.
#pragma once

#include "sievelight/base/image.hpp"

#include <limits>
#include <optional>
#include <string>
#include <vector>

namespace sievelight {

/// What a file declares. Absent values stay empty; `notes` says, in plain words, what was assumed and why.
struct FrameMetadata {
  std::optional<double> wavelength_nm, wavelength_spread;
  std::optional<double> distance_mm;
  std::optional<double> beam_center_x_px, beam_center_y_px;  // column, row; pixel centres at integers, from 0
  std::optional<double> pixel_size_x_mm, pixel_size_y_mm;
  std::optional<double> pitch_deg, yaw_deg, roll_deg;
  std::optional<double> saturation_value, dead_time_s;
  std::optional<double> sensor_thickness_mm;
  std::optional<std::string> sensor_material;
  std::optional<std::string> sample_name;
  bool countrate_correction_applied = false;  // true = dead time already corrected in the file: never twice
  bool flatfield_applied = false;
  std::vector<std::string> notes;
};

/// Counts of one measurement: a single exposure, or several summed (never averaged).
struct Frame {
  Image counts;  // (rows, columns) counts, summed over `exposures`
  Mask masked;   // (rows, columns) true = never use (gap, defect, saturated, not finite, negative)
  double exposure_s = std::numeric_limits<double>::quiet_NaN();  // summed
  std::optional<double> monitor;                                 // summed
  Eigen::Index exposures = 1;
  FrameMetadata metadata;
};

/// Raises InputError unless counts and mask have one shape and every pixel that is not masked holds a finite number of
/// at least zero. Exposure and monitor are checked where they are used.
void check(const Frame& frame);

}  // namespace sievelight
