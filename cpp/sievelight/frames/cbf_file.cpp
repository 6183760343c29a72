// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/cbf_file.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/curve/whole_file.hpp"
#include "sievelight/frames/byte_offset.hpp"
#include "sievelight/frames/cbf_library.hpp"
#include "sievelight/frames/frame_source.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cctype>
#include <filesystem>
#include <fstream>
#include <optional>

namespace sievelight {
namespace {

using Eigen::Index;
using Section = CifText::Section;

constexpr const char* copy_again = "Copy the file again from where it was measured; leave the frame out if it is lost.";
constexpr std::uint64_t most_bytes = std::uint64_t{1} << 32;
// No compression of CBF packs a number into less than 6 bits for 128 of them (packed, a run of equal numbers).
constexpr std::uint64_t most_per_byte = 256;

std::string read_content(const std::string& path) {
  std::error_code failed;
  const std::uint64_t bytes = std::filesystem::file_size(path, failed);
  if (failed) throw DataError(fmt::format("There is no file '{}'.", path), "Check the path.");
  if (bytes > most_bytes)
    throw DataError(fmt::format("'{}' has {} bytes; a CBF file has at most {}.", path, bytes, most_bytes),
                    "Save the frames as HDF5.");
  std::string content(bytes, '\0');
  std::ifstream file(path, std::ios::binary);
  if (!file.read(content.data(), static_cast<std::streamsize>(content.size())))
    throw DataError(fmt::format("'{}' cannot be read.", path), "Check the rights on the file.");
  return content;
}

// Letters in lower case, without the quotes around the whole.
std::string word(const Section& section, const std::string& key) {
  const auto found = section.header.find(key);
  std::string out;
  if (found != section.header.end())
    for (const char c : found->second)
      if (c != '"') out += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

std::uint64_t size_of(const Section& section, const std::string& key, std::uint64_t otherwise) {
  const auto value = parse_number(word(section, key));
  return value && *value >= 1 && *value < 4e9 ? static_cast<std::uint64_t>(*value) : otherwise;
}

// conversions="x-CBF_BYTE_OFFSET" in the content type.
std::string compression_of(const Section& section) {
  const std::string type = word(section, "content-type"), mark = "x-cbf_";
  const auto at = type.find(mark);
  if (at == std::string::npos) return "none";
  std::string name;
  for (std::size_t i = at + mark.size();
       i < type.size() && (std::isalnum(static_cast<unsigned char>(type[i])) || type[i] == '_'); ++i)
    name += type[i] == '_' ? '-' : type[i];
  return name == "none" ? "none" : printable(name, 40);
}

// "signed 32-bit integer", "unsigned 16-bit integer", "signed 64-bit real IEEE".
std::optional<StoredType> type_of(const std::string& words) {
  const bool real = words.find("real") != std::string::npos, is_unsigned = words.rfind("unsigned", 0) == 0;
  for (const auto& [bits, kind] : {std::pair{"8-bit", NumberKind::i8},
                                   {"16-bit", NumberKind::i16},
                                   {"32-bit", NumberKind::i32},
                                   {"64-bit", NumberKind::i64}}) {
    if (words.find(std::string(" ") + bits) == std::string::npos || words.find("complex") != std::string::npos)
      continue;
    if (!real) return plain_type(static_cast<NumberKind>(static_cast<int>(kind) + (is_unsigned ? 1 : 0)), false);
    if (kind == NumberKind::i32) return plain_type(NumberKind::f32, false);
    if (kind == NumberKind::i64) return plain_type(NumberKind::f64, false);
  }
  return std::nullopt;
}

}  // namespace

CbfFile::CbfFile(const std::string& path) : path_(path), text_(read_content(path), path) {
  if (text_.sections().empty())
    throw DataError(fmt::format("'{}' holds no image: it has no item _array_data.data.", path),
                    "Check that this is the detector's file; images of one file may lie beside their header's.");
  for (std::size_t i = 0; i < text_.sections().size(); ++i) look_at_section(i);
  require_sensible_size(path, static_cast<std::uint64_t>(count()), static_cast<std::uint64_t>(rows_),
                        static_cast<std::uint64_t>(columns_));
}

void CbfFile::look_at_section(std::size_t index) {
  const Section& section = text_.sections()[index];
  if (const std::string encoding = word(section, "content-transfer-encoding");
      !encoding.empty() && encoding != "binary")
    throw DataError(fmt::format("Image {} of '{}' is written as text ({}).", index, path_, printable(encoding, 40)),
                    "Save it with binary sections.");
  std::uint64_t fast = size_of(section, "x-binary-size-fastest-dimension", 0),
                mid = size_of(section, "x-binary-size-second-dimension", 0),
                slow = size_of(section, "x-binary-size-third-dimension", 0);
  if (fast == 0) {  // old files give the dimensions as items only
    const auto precedence = values("array_structure_list", "precedence");
    const auto dimension = values("array_structure_list", "dimension");
    for (std::size_t i = 0; i < std::min(precedence.size(), dimension.size()); ++i) {
      const double n = parse_number(dimension[i]).value_or(0);
      if (!(n >= 1 && n < 4e9)) continue;
      (precedence[i] == "1" ? fast : precedence[i] == "2" ? mid : slow) = static_cast<std::uint64_t>(n);
    }
  }
  mid = std::max<std::uint64_t>(mid, 1);
  slow = std::max<std::uint64_t>(slow, 1);
  require_sensible_size(path_, slow, mid, fast);
  const std::uint64_t needed = fast * mid * slow, elements = size_of(section, "x-binary-number-of-elements", needed);
  if (needed != elements || elements / most_per_byte > section.bytes)
    throw DataError(fmt::format("Image {} of '{}' claims {} x {} x {} pixels and {} numbers in {} bytes.", index, path_,
                                slow, mid, fast, elements, section.bytes),
                    copy_again);
  const std::optional<StoredType> type = type_of(word(section, "x-binary-element-type"));
  if (!type)
    throw DataError(fmt::format("Image {} of '{}' holds numbers of the type '{}'.", index, path_,
                                printable(word(section, "x-binary-element-type"), 60)),
                    "Save the counts as integers of 8 to 64 bits or as 32 or 64-bit floating point.");
  const bool big_endian = word(section, "x-binary-element-byte-order") == "big_endian";
  const std::string compression = compression_of(section);
  if (index == 0) {
    slow_ = static_cast<Index>(slow);
    rows_ = static_cast<Index>(mid);
    columns_ = static_cast<Index>(fast);
    type_ = *type;
    big_endian_ = big_endian;
    compression_ = compression;
  } else if (slow_ != static_cast<Index>(slow) || rows_ != static_cast<Index>(mid) ||
             columns_ != static_cast<Index>(fast) || type->name != type_.name || big_endian != big_endian_ ||
             compression != compression_) {
    throw DataError(fmt::format("Image {} of '{}' is {} x {} {}, {}, the first {} x {} {}, {} (rows x columns).", index,
                                path_, mid, fast, type->name, compression, rows_, columns_, type_.name, compression_),
                    "A stack has frames of one size and type; save them as files of their own.");
  }
}

std::vector<unsigned char> CbfFile::decode(std::size_t index, std::size_t elements) const {
  const Section& section = text_.sections()[index];
  const std::span<const unsigned char> bytes(text_.bytes(section), section.bytes);
  if (const auto sum = section.header.find("content-md5"); sum != section.header.end() && sum->second.size() == 24)
    if (md5_base64(bytes) != sum->second) throw DataError("the checksum is wrong", copy_again);
  if (compression_ == "byte-offset") return decode_byte_offset(bytes, elements, type_);
  if (compression_ == "none") {
    if (bytes.size() < elements * type_.size) throw DataError("the data end too early", copy_again);
    std::vector<unsigned char> out(bytes.begin(), bytes.begin() + static_cast<std::ptrdiff_t>(elements * type_.size));
    if (big_endian_ == (std::endian::native == std::endian::little))
      for (auto at = out.begin(); at != out.end(); at += static_cast<std::ptrdiff_t>(type_.size))
        std::reverse(at, at + static_cast<std::ptrdiff_t>(type_.size));
    return out;
  }
  if (!may_use_cbf_library())
    throw DataError("this compression is undone by a library alone that a hostile file can crash",
                    "Save the frames with byte offsets; or, where you trust the file, set the environment variable "
                    "SIEVELIGHT_CBF_LIBRARY to allow.");
  return decode_by_cbf_library(path_, index, elements, type_);
}

std::vector<unsigned char> CbfFile::read(Index exposure) const {
  const auto frame = static_cast<std::size_t>(rows_ * columns_);
  std::vector<unsigned char> out;
  try {
    out = decode(static_cast<std::size_t>(exposure / slow_), frame * static_cast<std::size_t>(slow_));
  } catch (const DataError& error) {
    throw DataError(
        fmt::format("Frame {} of '{}' cannot be decoded ({}): {}.", exposure, path_, compression_, error.problem()),
        error.mend());
  }
  if (slow_ == 1) return out;
  const std::size_t bytes = frame * type_.size, at = static_cast<std::size_t>(exposure % slow_) * bytes;
  return {out.begin() + static_cast<std::ptrdiff_t>(at), out.begin() + static_cast<std::ptrdiff_t>(at + bytes)};
}

}  // namespace sievelight
