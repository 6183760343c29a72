// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/frame_source.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/parallel.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cstring>

namespace sievelight {

using Eigen::Index;

void require_sensible_size(const std::string& path, std::uint64_t count, std::uint64_t rows, std::uint64_t columns) {
  constexpr std::uint64_t most_pixels = std::uint64_t{1} << 28, most_exposures = std::uint64_t{1} << 24;
  if (count == 0 || rows == 0 || columns == 0)
    throw DataError(fmt::format("'{}' is empty: {} x {} x {} (exposures, rows, columns).", path, count, rows, columns),
                    "The measurement was stopped before its first frame, or the file was closed too early.");
  if (rows > most_pixels / columns || count > most_exposures)
    throw DataError(
        fmt::format("'{}' claims {} x {} x {} pixels (exposures, rows, columns).", path, count, rows, columns),
        "Copy the file again from where it was measured; leave the frame out if it is lost.");
}

void throw_changed(const std::string& path) {
  throw DataError(fmt::format("'{}' has changed since it was opened.", path), "Open it again.");
}

CountTally add_frame(const StoredType& type, const unsigned char* stored, double saturation, Image& counts,
                     Mask& masked) {
  const Index rows = counts.rows(), columns = counts.cols(), band = 64;
  const auto bands = static_cast<std::size_t>((rows + band - 1) / band);
  std::vector<CountTally> tallies(bands);
  parallel_for(bands, [&](std::size_t b) {
    const Index low = static_cast<Index>(b) * band, n = std::min(band, rows - low) * columns;
    add_counts(type, stored + static_cast<std::size_t>(low * columns) * type.size, static_cast<std::size_t>(n),
               saturation, counts.data() + low * columns, masked.data() + low * columns, tallies[b]);
  });
  CountTally total;
  for (const CountTally& tally : tallies) total += tally;
  return total;
}

StoredType plain_type(NumberKind kind, bool swapped) {
  static constexpr const char* names[] = {"int8",   "uint8", "int16",  "uint16",  "int32",
                                          "uint32", "int64", "uint64", "float32", "float64"};
  StoredType type;
  type.kind = kind;
  type.name = names[static_cast<int>(kind)];
  type.size = with_number(kind, [](auto zero) { return sizeof(zero); });
  type.swapped = swapped && type.size > 1;
  return type;
}

void to_doubles(const StoredType& type, const unsigned char* stored, std::size_t n, double* out) {
  with_number(type.kind, [&](auto zero) {
    using T = decltype(zero);
    for (std::size_t i = 0; i < n; ++i) {
      unsigned char bytes[sizeof(T)];
      std::memcpy(bytes, stored + i * sizeof(T), sizeof(T));
      if (type.swapped) std::reverse(bytes, bytes + sizeof(T));
      out[i] = static_cast<double>(std::bit_cast<T>(bytes));
    }
  });
}

std::string printable(const std::string& text, std::size_t most) {
  std::string out;
  for (const char c : text)
    if (out.size() < most && c >= 32 && c < 127) out += c;
  return out;
}

}  // namespace sievelight
