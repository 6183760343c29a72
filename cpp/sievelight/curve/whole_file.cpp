// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/whole_file.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/regular_file.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <limits>

namespace sievelight {
namespace {

constexpr std::uintmax_t most_bytes = std::uintmax_t{1} << 26;

}  // namespace

std::string read_whole_file(const std::string& path) {
  require_regular_file(path);
  std::error_code failed;
  const std::uintmax_t size = std::filesystem::file_size(path, failed);
  if (failed || size > most_bytes)
    throw DataError(fmt::format("'{}' has {} bytes; a curve has at most {}.", path, size, most_bytes),
                    "Check that this is a file of curves.");
  std::string content(size, '\0');
  std::ifstream file(path, std::ios::binary);
  if (!file.read(content.data(), static_cast<std::streamsize>(size)))
    throw DataError(fmt::format("'{}' cannot be read.", path), "Check the rights on the file.");
  return content;
}

std::optional<double> parse_number(const std::string& text) {
  const char *begin = text.data(), *end = begin + text.size();
  if (begin != end && *begin == '+') ++begin;
  double value = 0;
  const auto [stop, error] = std::from_chars(begin, end, value);
  if (begin == end || stop != end) return std::nullopt;
  if (error == std::errc::result_out_of_range) return std::numeric_limits<double>::quiet_NaN();
  return error == std::errc() ? std::optional(value) : std::nullopt;
}

}  // namespace sievelight
