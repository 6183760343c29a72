// SPDX-License-Identifier: GPL-3.0-or-later
/// Adding frames that were read one by one, from one file or several.
#pragma once

#include "sievelight/frames/frame.hpp"

namespace sievelight {

/// Counts, exposures and monitors add; a pixel masked in any is masked; a monitor missing in one is missing in the sum.
/// Metadata are the first frame's; notes that differ are gathered. InputError for no frames or unlike shapes.
Frame sum_frames(const std::vector<const Frame*>& frames);

}  // namespace sievelight
