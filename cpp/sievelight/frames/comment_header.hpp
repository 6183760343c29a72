// SPDX-License-Identifier: GPL-3.0-or-later
/// The small text header of "# Name value unit" lines that many detectors write into CBF and TIFF files:
///   # Exposure_time 1.0 s          # Wavelength 1.54 A              # Pixel_size 172e-6 m x 172e-6 m
///   # Detector_distance 0.5 m      # Beam_xy (243.1, 309.9) pixels  # Count_cutoff 1000000 counts
///   # Tau = 1.2e-7 s               # Silicon sensor, thickness 0.00045 m
/// Common practice without a standard of its own, so every line counts only where its unit is understood.
#pragma once

#include "sievelight/frames/frame.hpp"

namespace sievelight {

/// Takes into `metadata` what the lines say that begin with '#'; other lines and unknown names are passed over. What
/// was assumed or left out is noted. Returns the number of lines that were understood; the exposure time, if any, is
/// left in `exposure_s`.
int read_comment_header(const std::string& text, FrameMetadata& metadata, std::optional<double>& exposure_s);

}  // namespace sievelight
