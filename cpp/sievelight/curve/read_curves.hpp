// SPDX-License-Identifier: GPL-3.0-or-later
/// Reading curves whatever the kind of file, by its content and not by its suffix.
#pragma once

#include "sievelight/curve/nxcansas_io.hpp"

namespace sievelight {

/// NXcanSAS (HDF5) or canSAS XML. DataError for any other kind; plain text needs its units: read_text_curve().
std::vector<NamedCurve> read_curves(const std::string& path);

}  // namespace sievelight
