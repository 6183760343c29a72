// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/tiff_pages.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/frames/frame_source.hpp"

#include <fmt/format.h>
#include <tiffio.h>

#include <algorithm>
#include <cctype>
#include <cstdarg>
#include <cstdio>
#include <cstring>
#include <filesystem>

namespace sievelight {

using Eigen::Index;

// libtiff's messages go here and never to the terminal.
struct TiffPages::Handle {
  TIFF* tiff = nullptr;
  std::string last_error;
  Handle() = default;
  Handle(const Handle&) = delete;
  Handle& operator=(const Handle&) = delete;
  ~Handle() {
    if (tiff) TIFFClose(tiff);
  }
};

namespace {

constexpr const char* copy_again = "Copy the file again from where it was measured; leave the frame out if it is lost.";
// The most that libtiff may ask for at once: one decoded frame of 2^28 pixels of 8 bytes.
constexpr tmsize_t most_bytes = tmsize_t{1} << 31;
// No codec of libtiff packs more than this many bytes into one (zstd: a block of 128 KB from 4 bytes).
constexpr std::uint64_t best_compression = 32768;

int keep_error(TIFF*, void* into, const char*, const char* format, va_list arguments) {
  char text[256];
  std::vsnprintf(text, sizeof text, format, arguments);
  *static_cast<std::string*>(into) = text;
  return 1;
}
int ignore_warning(TIFF*, void*, const char*, const char*, va_list) { return 1; }

// Lines stay lines: a description may be a header of several.
std::string printable_lines(const char* text) {
  std::string out;
  for (; *text && out.size() < 4096; ++text)
    if (*text == '\n' || (*text >= 32 && *text < 127)) out += *text;
  return out;
}

template <typename T>
T field(TIFF* tiff, ttag_t tag, T otherwise) {
  T value = otherwise;
  return TIFFGetFieldDefaulted(tiff, tag, &value) ? value : otherwise;
}

std::string text_field(TIFF* tiff, ttag_t tag) {
  const char* value = nullptr;
  return TIFFGetField(tiff, tag, &value) && value ? printable_lines(value) : "";
}

StoredType sample_type(int bits, int format, const std::string& path) {
  if (format == SAMPLEFORMAT_IEEEFP && (bits == 32 || bits == 64))
    return plain_type(bits == 32 ? NumberKind::f32 : NumberKind::f64, false);
  const bool is_signed = format == SAMPLEFORMAT_INT;
  if (is_signed || format == SAMPLEFORMAT_UINT || format == SAMPLEFORMAT_VOID) switch (bits) {
      case 8:
        return plain_type(is_signed ? NumberKind::i8 : NumberKind::u8, false);
      case 16:
        return plain_type(is_signed ? NumberKind::i16 : NumberKind::u16, false);
      case 32:
        return plain_type(is_signed ? NumberKind::i32 : NumberKind::u32, false);
      case 64:
        return plain_type(is_signed ? NumberKind::i64 : NumberKind::u64, false);
      default:
        break;
    }
  throw DataError(fmt::format("'{}' holds numbers of {} bits ({}).", path, bits,
                              format == SAMPLEFORMAT_IEEEFP ? "floating point"
                              : format > SAMPLEFORMAT_VOID  ? "complex"
                                                            : "integers"),
                  "Save the frame as integers of 8, 16, 32 or 64 bits or as 32 or 64-bit floating point.");
}

}  // namespace

bool is_tiff(const std::string& head) {
  for (const char* magic : {"II*\0", "MM\0*", "II+\0", "MM\0+"})
    if (head.compare(0, 4, magic, 4) == 0) return true;
  return false;
}

TiffPages::TiffPages(const std::string& path, bool bits) : path_(path), bits_(bits) {
  handle_ = std::make_unique<Handle>();
  std::error_code failed;
  file_bytes_ = std::filesystem::file_size(path, failed);
  const std::unique_ptr<TIFFOpenOptions, void (*)(TIFFOpenOptions*)> options(TIFFOpenOptionsAlloc(),
                                                                             TIFFOpenOptionsFree);
  TIFFOpenOptionsSetErrorHandlerExtR(options.get(), keep_error, &handle_->last_error);
  TIFFOpenOptionsSetWarningHandlerExtR(options.get(), ignore_warning, nullptr);
  TIFFOpenOptionsSetMaxSingleMemAlloc(options.get(), most_bytes);
  handle_->tiff = TIFFOpenExt(path.c_str(), "rm", options.get());  // m: no memory map, a file may be cut while open
  if (!handle_->tiff) throw DataError(broken(), copy_again);
  TIFF* tiff = handle_->tiff;
  handle_->last_error.clear();
  do {
    if (field<std::uint32_t>(tiff, TIFFTAG_SUBFILETYPE, 0) & (FILETYPE_REDUCEDIMAGE | FILETYPE_MASK)) continue;
    look_at_page();
    pages_.push_back(TIFFCurrentDirOffset(tiff));
  } while (TIFFReadDirectory(tiff));
  // At the last page libtiff says nothing; anything else it says is a broken chain of pages.
  if (!handle_->last_error.empty()) throw DataError(broken(), copy_again);
  require_sensible_size(path, pages_.size(), static_cast<std::uint64_t>(rows_), static_cast<std::uint64_t>(columns_));
}

TiffPages::~TiffPages() = default;

std::string TiffPages::broken() const {
  return fmt::format("'{}' is a truncated or broken TIFF file{}.", path_,
                     handle_->last_error.empty() ? "" : fmt::format(" ({})", printable(handle_->last_error)));
}

// What the file stores of this page, from its directory; DataError when that goes beyond the file's end.
std::uint64_t TiffPages::stored_bytes() {
  TIFF* tiff = handle_->tiff;
  const std::uint32_t n = TIFFIsTiled(tiff) ? TIFFNumberOfTiles(tiff) : TIFFNumberOfStrips(tiff);
  if (n > file_bytes_) throw DataError(broken(), copy_again);
  std::uint64_t total = 0;
  for (std::uint32_t i = 0; i < n; ++i) {
    const std::uint64_t offset = TIFFGetStrileOffset(tiff, i), bytes = TIFFGetStrileByteCount(tiff, i);
    if (offset == 0 || bytes == 0 || offset > file_bytes_ || bytes > file_bytes_ - offset)
      throw DataError(
          fmt::format("'{}' is a truncated or broken TIFF file: part {} of {} of a page has {} bytes at {}, "
                      "the file {}.",
                      path_, i + 1, n, bytes, offset, file_bytes_),
          copy_again);
    total += bytes;
  }
  return total;
}

void TiffPages::look_at_page() {
  TIFF* tiff = handle_->tiff;
  const auto samples = field<std::uint16_t>(tiff, TIFFTAG_SAMPLESPERPIXEL, 1);
  const auto photometric = field<std::uint16_t>(tiff, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_MINISBLACK);
  if (samples != 1 || (photometric != PHOTOMETRIC_MINISBLACK && photometric != PHOTOMETRIC_MINISWHITE))
    throw DataError(
        fmt::format("'{}' is {}: its numbers are no counts.", path_,
                    photometric == PHOTOMETRIC_PALETTE                                   ? "a picture with a palette"
                    : photometric == PHOTOMETRIC_RGB || photometric == PHOTOMETRIC_YCBCR ? "a colour picture"
                    : samples != 1 ? fmt::format("a picture of {} samples a pixel", samples)
                                   : "a processed picture"),
        "Give the detector's own file, or a grey image of one number a pixel.");
  const auto width = field<std::uint32_t>(tiff, TIFFTAG_IMAGEWIDTH, 0);
  const auto length = field<std::uint32_t>(tiff, TIFFTAG_IMAGELENGTH, 0);
  require_sensible_size(path_, 1, length, width);
  const auto bits = field<std::uint16_t>(tiff, TIFFTAG_BITSPERSAMPLE, 1);
  const auto format = field<std::uint16_t>(tiff, TIFFTAG_SAMPLEFORMAT, SAMPLEFORMAT_UINT);
  const bool one_bit = bits_ && bits == 1;
  const StoredType type = one_bit ? plain_type(NumberKind::u8, false) : sample_type(bits, format, path_);
  const auto scheme = field<std::uint16_t>(tiff, TIFFTAG_COMPRESSION, COMPRESSION_NONE);
  std::string compression = fmt::format("TIFF compression {}", scheme);
  if (const TIFFCodec* codec = TIFFFindCODEC(scheme)) compression = codec->name;
  std::transform(compression.begin(), compression.end(), compression.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  if (!TIFFIsCODECConfigured(scheme))
    throw DataError(fmt::format("'{}' is compressed with {}, which is not known here.", path_, compression),
                    "Save it again with deflate, LZW or without compression.");
  if (pages_.empty()) {
    rows_ = length;
    columns_ = width;
    type_ = type;
    one_bit_ = one_bit;
    compression_ = compression;
    description_ = text_field(tiff, TIFFTAG_IMAGEDESCRIPTION);
    if (const std::string when = text_field(tiff, TIFFTAG_DATETIME); !when.empty())
      notes_.push_back("DateTime in the file: " + when.substr(0, 40));
    if (photometric == PHOTOMETRIC_MINISWHITE)
      notes_.push_back("shown with 0 as white; the numbers are read as they are");
    if (const auto turned = field<std::uint16_t>(tiff, TIFFTAG_ORIENTATION, ORIENTATION_TOPLEFT);
        turned != ORIENTATION_TOPLEFT)
      notes_.push_back(
          fmt::format("the file's orientation tag is {}; rows and columns are taken as stored, nothing is "
                      "turned or mirrored",
                      turned));
    if (scheme == COMPRESSION_JPEG || scheme == COMPRESSION_JP2000 || scheme == COMPRESSION_WEBP)
      notes_.push_back("this compression loses counts: counting statistics hold only nearly");
  } else if (length != rows_ || width != columns_ || type.name != type_.name || one_bit != one_bit_) {
    throw DataError(fmt::format("Page {} of '{}' is {} x {} {}, the first {} x {} {} (rows x columns).",
                                pages_.size() + 1, path_, length, width, type.name, rows_, columns_, type_.name),
                    "A stack has frames of one size and type; save them as files of their own.");
  }
  const std::uint64_t stored = stored_bytes(), needed = std::uint64_t{length} * width * bits / 8;
  if (scheme == COMPRESSION_NONE ? stored < needed : stored < needed / best_compression)
    throw DataError(fmt::format("'{}' is a truncated or broken TIFF file: {} bytes are stored for {} x {} {}.", path_,
                                stored, length, width, type.name),
                    copy_again);
}

std::vector<unsigned char> TiffPages::read(Index page) {
  TIFF* tiff = handle_->tiff;
  const auto failed = [&] {
    return DataError(fmt::format("Frame {} of '{}' cannot be decoded ({}): {}.", page, path_, compression_,
                                 printable(handle_->last_error)),
                     copy_again);
  };
  handle_->last_error.clear();
  if (!TIFFSetSubDirectory(tiff, pages_[static_cast<std::size_t>(page)])) throw failed();
  const auto rows = static_cast<std::size_t>(rows_), columns = static_cast<std::size_t>(columns_);
  const std::size_t row_bytes = one_bit_ ? (columns + 7) / 8 : columns * type_.size;
  std::vector<unsigned char> out(rows * row_bytes);
  if (TIFFIsTiled(tiff)) {
    const auto wide = field<std::uint32_t>(tiff, TIFFTAG_TILEWIDTH, 0);
    const auto high = field<std::uint32_t>(tiff, TIFFTAG_TILELENGTH, 0);
    const auto tile_row = static_cast<std::size_t>(TIFFTileRowSize(tiff)),
               size = static_cast<std::size_t>(TIFFTileSize(tiff));
    if (wide == 0 || high == 0 || tile_row == 0 || size < tile_row * high || size > 4 * out.size() + (1u << 24))
      throw failed();
    std::vector<unsigned char> tile(size);
    for (std::size_t y = 0; y < rows; y += high)
      for (std::size_t x = 0; x < columns; x += wide) {
        const auto number = TIFFComputeTile(tiff, static_cast<std::uint32_t>(x), static_cast<std::uint32_t>(y), 0, 0);
        if (TIFFReadEncodedTile(tiff, number, tile.data(), static_cast<tmsize_t>(size)) != static_cast<tmsize_t>(size))
          throw failed();
        const std::size_t at = one_bit_ ? x / 8 : x * type_.size;
        for (std::size_t row = y; row < std::min<std::size_t>(rows, y + high); ++row)
          std::memcpy(out.data() + row * row_bytes + at, tile.data() + (row - y) * tile_row,
                      std::min(tile_row, row_bytes - at));
      }
  } else {
    const auto strip_rows = std::min<std::size_t>(field<std::uint32_t>(tiff, TIFFTAG_ROWSPERSTRIP, 0), rows);
    if (strip_rows == 0) throw failed();
    for (std::size_t y = 0, strip = 0; y < rows; y += strip_rows, ++strip) {
      const auto bytes = static_cast<tmsize_t>(std::min(strip_rows, rows - y) * row_bytes);
      if (TIFFReadEncodedStrip(tiff, static_cast<std::uint32_t>(strip), out.data() + y * row_bytes, bytes) != bytes)
        throw failed();
    }
  }
  if (!one_bit_) return out;
  std::vector<unsigned char> single(rows * columns);
  for (std::size_t y = 0; y < rows; ++y)
    for (std::size_t x = 0; x < columns; ++x) single[y * columns + x] = (out[y * row_bytes + x / 8] >> (7 - x % 8)) & 1;
  return single;
}

}  // namespace sievelight
