// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/regular_file.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <filesystem>

namespace sievelight {

void require_regular_file(const std::string& path) {
  std::error_code failed;
  const auto status = std::filesystem::status(path, failed);
  if (!std::filesystem::exists(status)) throw DataError(fmt::format("There is no file '{}'.", path), "Check the path.");
  if (std::filesystem::is_directory(status))
    throw DataError(fmt::format("'{}' is a folder, not a file.", path), "Give a file in it.");
  if (!std::filesystem::is_regular_file(status))
    throw DataError(fmt::format("'{}' is not a file but a pipe or a device.", path), "Give a file on a disk.");
}

}  // namespace sievelight
