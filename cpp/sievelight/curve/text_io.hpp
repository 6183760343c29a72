// SPDX-License-Identifier: GPL-3.0-or-later
/// Curves in plain text: columns q, I, then if present u(I), then if present the q resolution.
#pragma once

#include "sievelight/curve/nxcansas_io.hpp"

namespace sievelight {

struct TextOptions {
  std::string q_unit = "1/nm";
  std::string intensity_unit = "1/cm";  // "relative", "cm2/g", or any inverse length
};

/// Reads two to four columns, separated by blanks, tabs, commas or semicolons. Empty lines, lines that begin with #, %,
/// !, or //, and lines of words above the first row of numbers are passed over. DataError (file, line) for a row
/// that is not numbers or has another number of columns; InputError for a unit that is not understood.
NamedCurve read_text_curve(const std::string& path, const TextOptions& options = {});

}  // namespace sievelight
