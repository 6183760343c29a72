// SPDX-License-Identifier: GPL-3.0-or-later
/// Small text files as a whole, and numbers in them.
#pragma once

#include <optional>
#include <string>

namespace sievelight {

/// The content of a file of at most 64 MB. DataError when it is missing, larger or cannot be read.
std::string read_whole_file(const std::string& path);

/// A number with a decimal point, whatever the language of the machine; nullopt when the text is anything else.
std::optional<double> parse_number(const std::string& text);

}  // namespace sievelight
