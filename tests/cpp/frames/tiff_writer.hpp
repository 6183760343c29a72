// SPDX-License-Identifier: GPL-3.0-or-later
/// TIFF files for the tests. Files that share no code with the reader are made with tifffile, in
/// tests/reference/test_image_files.py.
#pragma once

#include <tiffio.h>

#include <string>
#include <vector>

namespace sievelight {

struct TiffKind {
  std::string mode = "w";  // "w8" BigTIFF, "wb" big-endian
  int compression = COMPRESSION_NONE;
  int format = SAMPLEFORMAT_UINT;
  int samples = 1;
  int photometric = PHOTOMETRIC_MINISBLACK;
  std::uint32_t tile = 0;  // edge of a square tile; 0 = strips of 3 rows
  std::string description = {}, when = {};
  std::uint32_t subfile = 0;
};

/// Writes pages of rows x columns numbers.
template <typename T>
void write_tiff(const std::string& path, const std::vector<std::vector<T>>& pages, std::uint32_t rows,
                std::uint32_t columns, const TiffKind& kind = {}) {
  TIFF* tiff = TIFFOpen(path.c_str(), kind.mode.c_str());
  for (const std::vector<T>& page : pages) {
    TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, columns);
    TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, rows);
    TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, static_cast<int>(8 * sizeof(T)));
    TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, kind.samples);
    TIFFSetField(tiff, TIFFTAG_SAMPLEFORMAT, kind.format);
    TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, kind.photometric);
    TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
    TIFFSetField(tiff, TIFFTAG_COMPRESSION, kind.compression);
    if (kind.subfile) TIFFSetField(tiff, TIFFTAG_SUBFILETYPE, kind.subfile);
    if (!kind.description.empty()) TIFFSetField(tiff, TIFFTAG_IMAGEDESCRIPTION, kind.description.c_str());
    if (!kind.when.empty()) TIFFSetField(tiff, TIFFTAG_DATETIME, kind.when.c_str());
    const auto wide = static_cast<std::size_t>(columns) * static_cast<std::size_t>(kind.samples);
    if (kind.tile > 0) {
      TIFFSetField(tiff, TIFFTAG_TILEWIDTH, kind.tile);
      TIFFSetField(tiff, TIFFTAG_TILELENGTH, kind.tile);
      std::vector<T> tile(std::size_t{kind.tile} * kind.tile);
      for (std::uint32_t y = 0; y < rows; y += kind.tile)
        for (std::uint32_t x = 0; x < columns; x += kind.tile) {
          for (std::uint32_t i = 0; i < kind.tile; ++i)
            for (std::uint32_t j = 0; j < kind.tile; ++j)
              tile[i * kind.tile + j] = y + i < rows && x + j < columns ? page[(y + i) * wide + x + j] : T(0);
          TIFFWriteTile(tiff, tile.data(), x, y, 0, 0);
        }
    } else {
      TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, 3);
      for (std::uint32_t y = 0; y < rows; ++y) TIFFWriteScanline(tiff, const_cast<T*>(page.data() + y * wide), y, 0);
    }
    TIFFWriteDirectory(tiff);
  }
  TIFFClose(tiff);
}

}  // namespace sievelight
