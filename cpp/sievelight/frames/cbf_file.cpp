// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/cbf_file.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/curve/whole_file.hpp"
#include "sievelight/frames/frame_source.hpp"

#include <cbf.h>
#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <sstream>

namespace sievelight {

using Eigen::Index;

struct CbfFile::Handle {
  cbf_handle cbf = nullptr;
  ~Handle() {
    if (cbf) cbf_free_handle(cbf);  // closes the file too
  }
};

namespace {

constexpr const char* copy_again = "Copy the file again from where it was measured; leave the frame out if it is lost.";
constexpr std::uint64_t most_bytes = std::uint64_t{1} << 32;
// No compression of the library packs a number into less than 6 bits for 128 of them (packed, a run of equal numbers).
constexpr std::uint64_t most_per_byte = 256;

// The library keeps state of its own between calls.
std::mutex& library_mutex() {
  static std::mutex mutex;
  return mutex;
}

std::string words_for(int error) {
  if (error & (CBF_ENDOFDATA | CBF_FILEREAD)) return "the data end too early";
  if (error & CBF_FORMAT) return "the format or a checksum is wrong";
  if (error & CBF_OVERFLOW) return "a number is too large for its type";
  if (error & CBF_ALLOC) return "it asks for too much memory";
  return fmt::format("error {} of the CBF library", error);
}

std::string compression_name(unsigned compression) {
  switch (compression & CBF_COMPRESSION_MASK) {
    case CBF_NONE:
    case CBF_INTEGER:
    case CBF_FLOAT:
      return "none";
    case CBF_CANONICAL:
      return "canonical";
    case CBF_PACKED:
      return "packed";
    case CBF_PACKED_V2:
      return "packed-v2";
    case CBF_BYTE_OFFSET:
      return "byte-offset";
    case CBF_NIBBLE_OFFSET:
      return "nibble-offset";
    case CBF_PREDICTOR:
      return "predictor";
  }
  return fmt::format("CBF compression {}", compression);
}

std::string lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}

}  // namespace

CbfFile::CbfFile(const std::string& path) : lock_(library_mutex()), path_(path) {
  std::error_code failed;
  file_bytes_ = std::filesystem::file_size(path, failed);
  if (failed) throw DataError(fmt::format("There is no file '{}'.", path), "Check the path.");
  check_sections();
  handle_ = std::make_unique<Handle>();
  if (cbf_make_handle(&handle_->cbf) != 0)
    throw DataError(fmt::format("'{}' cannot be opened.", path), "Close other programs; memory is short.");
  cbf_set_cbf_logfile(handle_->cbf, nullptr);  // never to the terminal
  std::FILE* stream = std::fopen(path.c_str(), "rb");
  if (!stream) throw DataError(fmt::format("'{}' cannot be read.", path), "Check the rights on the file.");
  // The library closes the stream, with the handle or when reading fails.
  if (const int error = cbf_read_widefile(handle_->cbf, stream, MSG_DIGEST); error != 0)
    throw DataError(fmt::format("'{}' is a truncated or broken CBF file: {}.", path, words_for(error)), copy_again);
  while (select(sections_)) {
    look_at_section(sections_);
    ++sections_;
  }
  if (sections_ == 0)
    throw DataError(fmt::format("'{}' holds no image: it has no item _array_data.data.", path),
                    "Check that this is the detector's file; images of one file may lie beside their header's.");
  require_sensible_size(path, static_cast<std::uint64_t>(count()), static_cast<std::uint64_t>(rows_),
                        static_cast<std::uint64_t>(columns_));
}

CbfFile::~CbfFile() = default;

// The library trusts the sizes that a file claims; so they are held against the file's length before it reads.
void CbfFile::check_sections() const {
  if (file_bytes_ > most_bytes)
    throw DataError(fmt::format("'{}' has {} bytes; a CBF file has at most {}.", path_, file_bytes_, most_bytes),
                    "Save the frames as HDF5.");
  std::string content(file_bytes_, '\0');
  std::ifstream file(path_, std::ios::binary);
  if (!file.read(content.data(), static_cast<std::streamsize>(content.size())))
    throw DataError(fmt::format("'{}' cannot be read.", path_), "Check the rights on the file.");
  const std::string mark = "--CIF-BINARY-FORMAT-SECTION--", magic = "\x0c\x1a\x04\xd5";
  for (auto at = content.find(mark); at != std::string::npos; at = content.find(mark, at)) {
    at += mark.size();
    if (content.compare(at, 2, "--") == 0) continue;  // the mark that ends a section
    const auto start = content.find(magic, at), none = content.find(mark, at);
    std::istringstream lines(content.substr(at, std::min({start, none, at + 4096}) - at));
    std::string line, encoding = "binary";
    double bytes = -1;
    while (std::getline(lines, line)) {
      const auto colon = line.find(':');
      if (colon == std::string::npos) continue;
      const std::string key = lower(line.substr(0, colon));
      std::string value = line.substr(colon + 1);
      value.erase(
          std::remove_if(value.begin(), value.end(), [](unsigned char c) { return std::isspace(c) || c == '"'; }),
          value.end());
      if (key == "x-binary-size") bytes = parse_number(value).value_or(-1);
      if (key == "content-transfer-encoding") encoding = lower(value);
    }
    if (encoding != "binary") continue;  // text, whose end the library finds
    const double left = start == std::string::npos ? -1 : static_cast<double>(content.size() - start - magic.size());
    if (left < 0 || bytes > left)
      throw DataError(fmt::format("'{}' is a truncated or broken CBF file: a section of {} bytes has {} left.", path_,
                                  bytes, std::max(left, 0.0)),
                      copy_again);
    if (bytes > 0) at = start + magic.size() + static_cast<std::size_t>(bytes);
  }
}

bool CbfFile::select(Index section) const {
  unsigned rows = 0;
  return cbf_rewind_datablock(handle_->cbf) == 0 && cbf_find_category(handle_->cbf, "array_data") == 0 &&
         cbf_find_column(handle_->cbf, "data") == 0 && cbf_count_rows(handle_->cbf, &rows) == 0 &&
         section < static_cast<Index>(rows) && cbf_select_row(handle_->cbf, static_cast<unsigned>(section)) == 0;
}

void CbfFile::look_at_section(Index section) {
  unsigned compression = 0;
  int id = 0, is_signed = 0, is_unsigned = 0, least = 0, most = 0, real = 0;
  std::size_t size = 0, elements = 0, fast = 0, mid = 0, slow = 0, padding = 0;
  const char* order = nullptr;
  if (const int error =
          cbf_get_arrayparameters_wdims_fs(handle_->cbf, &compression, &id, &size, &is_signed, &is_unsigned, &elements,
                                           &least, &most, &real, &order, &fast, &mid, &slow, &padding);
      error != 0)
    throw DataError(fmt::format("Image {} of '{}' cannot be read: {}.", section, path_, words_for(error)), copy_again);
  if (fast == 0) {  // old files give the dimensions as items only
    const auto precedence = values("array_structure_list", "precedence");
    const auto dimension = values("array_structure_list", "dimension");
    for (std::size_t i = 0; i < std::min(precedence.size(), dimension.size()); ++i) {
      const double n = parse_number(dimension[i]).value_or(0);
      if (!(n >= 1 && n < 4e9)) continue;
      (precedence[i] == "1" ? fast : precedence[i] == "2" ? mid : slow) = static_cast<std::size_t>(n);
    }
    select(section);
  }
  mid = std::max<std::size_t>(mid, 1);
  slow = std::max<std::size_t>(slow, 1);
  require_sensible_size(path_, slow, mid, fast);
  if (fast * mid * slow != elements || elements / most_per_byte > file_bytes_)
    throw DataError(fmt::format("Image {} of '{}' claims {} x {} x {} pixels and {} numbers in a file of {} bytes.",
                                section, path_, slow, mid, fast, elements, file_bytes_),
                    copy_again);
  std::optional<NumberKind> kind;
  if (real)
    kind = size == 4 ? std::optional(NumberKind::f32) : size == 8 ? std::optional(NumberKind::f64) : std::nullopt;
  else if (size == 1 || size == 2 || size == 4 || size == 8)
    kind = static_cast<NumberKind>((size == 1 ? 0 : size == 2 ? 2 : size == 4 ? 4 : 6) + (is_signed ? 0 : 1));
  if (!kind)
    throw DataError(fmt::format("Image {} of '{}' holds numbers of {} bytes.", section, path_, size),
                    "Save the counts as integers of 1 to 8 bytes or as 32 or 64-bit floating point.");
  const StoredType type = plain_type(*kind, false);
  if (section == 0) {
    slow_ = static_cast<Index>(slow);
    rows_ = static_cast<Index>(mid);
    columns_ = static_cast<Index>(fast);
    type_ = type;
    compression_ = compression_name(compression);
  } else if (slow_ != static_cast<Index>(slow) || rows_ != static_cast<Index>(mid) ||
             columns_ != static_cast<Index>(fast) || type.name != type_.name) {
    throw DataError(fmt::format("Image {} of '{}' is {} x {} {}, the first {} x {} {} (rows x columns).", section,
                                path_, mid, fast, type.name, rows_, columns_, type_.name),
                    "A stack has frames of one size and type; save them as files of their own.");
  }
}

std::vector<unsigned char> CbfFile::read(Index exposure) const {
  const auto frame = static_cast<std::size_t>(rows_ * columns_);
  const std::size_t elements = frame * static_cast<std::size_t>(slow_);
  std::vector<unsigned char> out(elements * type_.size);
  int id = 0;
  std::size_t done = 0;
  int error = CBF_NOTFOUND;
  if (select(exposure / slow_)) {
    const bool real = type_.kind == NumberKind::f32 || type_.kind == NumberKind::f64;
    error =
        real ? cbf_get_realarray(handle_->cbf, &id, out.data(), type_.size, elements, &done)
             : cbf_get_integerarray(handle_->cbf, &id, out.data(), type_.size, type_.name[0] == 'i', elements, &done);
  }
  if (error != 0 || done != elements)
    throw DataError(fmt::format("Frame {} of '{}' cannot be decoded ({}): {}.", exposure, path_, compression_,
                                error ? words_for(error) : fmt::format("{} of {} numbers", done, elements)),
                    copy_again);
  if (slow_ == 1) return out;
  const std::size_t bytes = frame * type_.size, at = static_cast<std::size_t>(exposure % slow_) * bytes;
  return {out.begin() + static_cast<std::ptrdiff_t>(at), out.begin() + static_cast<std::ptrdiff_t>(at + bytes)};
}

std::vector<std::string> CbfFile::values(const std::string& category, const std::string& column) const {
  std::vector<std::string> out;
  unsigned rows = 0;
  if (cbf_rewind_datablock(handle_->cbf) != 0 || cbf_find_category(handle_->cbf, category.c_str()) != 0 ||
      cbf_find_column(handle_->cbf, column.c_str()) != 0 || cbf_count_rows(handle_->cbf, &rows) != 0)
    return out;
  for (unsigned row = 0; row < rows; ++row) {
    const char* value = nullptr;
    const bool known = cbf_select_row(handle_->cbf, row) == 0 && cbf_get_value(handle_->cbf, &value) == 0 && value;
    const std::string text = known ? value : "";
    out.push_back(text == "." || text == "?" ? "" : text);
  }
  return out;
}

}  // namespace sievelight
