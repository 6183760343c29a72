// SPDX-License-Identifier: GPL-3.0-or-later
/// Curves in plain text: columns q, I, then if present u(I), then if present the q resolution.
#pragma once

#include "sievelight/curve/nxcansas_io.hpp"

#include <optional>

namespace sievelight {

struct TextOptions {
  std::optional<std::string> q_unit = {};          // "1/nm", "1/A", ...
  std::optional<std::string> intensity_unit = {};  // "1/cm" or another inverse length, "cm2/g", or "relative"
};

/// Reads a file of write_csv() (csv.hpp) by its header, which names the units: they may be left out, and must agree
/// where given. Otherwise two to four columns, separated by blanks, tabs, commas or semicolons, whose units must be
/// given; empty lines, lines that begin with #, %, !, or //, and lines of words above the first row of numbers are
/// passed over. DataError (file, line) for a row that is not numbers or has another number of columns; InputError for a
/// unit that is missing, not understood or contradicts the file.
NamedCurve read_text_curve(const std::string& path, const TextOptions& options = {});

}  // namespace sievelight
