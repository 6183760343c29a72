// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/tiff_pages.hpp"

#include "frames/tiff_writer.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/frames/frame_source.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

template <typename T>
std::vector<T> numbers(std::size_t n) {
  std::vector<T> out(n);
  for (std::size_t i = 0; i < n; ++i) out[i] = static_cast<T>(i * 7 % 120);
  return out;
}

std::vector<double> read(const std::string& path, Eigen::Index page = 0) {
  TiffPages pages(path);
  std::vector<double> out(static_cast<std::size_t>(pages.rows() * pages.columns()));
  to_doubles(pages.type(), pages.read(page).data(), out.size(), out.data());
  return out;
}

template <typename T>
void comes_back(const Scratch& scratch, const TiffKind& kind, const std::string& type) {
  const std::vector<T> page = numbers<T>(19 * 37);
  write_tiff<T>(scratch / "x.tif", {page}, 19, 37, kind);
  EXPECT_EQ(TiffPages(scratch / "x.tif").type().name, type);
  EXPECT_EQ(read(scratch / "x.tif"), std::vector<double>(page.begin(), page.end())) << type;
}

TEST(TiffPages, OfEveryNumberTypeComeBackInStripsAndTilesAndBothOrders) {
  const Scratch scratch;
  for (const std::string mode : {"wl", "wb", "w8"})
    for (const std::uint32_t tile : {0u, 16u}) {
      const auto kind = [&](int format) { return TiffKind{mode, COMPRESSION_NONE, format, 1, 1, tile}; };
      comes_back<unsigned char>(scratch, kind(SAMPLEFORMAT_UINT), "uint8");
      comes_back<unsigned short>(scratch, kind(SAMPLEFORMAT_UINT), "uint16");
      comes_back<unsigned>(scratch, kind(SAMPLEFORMAT_UINT), "uint32");
      comes_back<signed char>(scratch, kind(SAMPLEFORMAT_INT), "int8");
      comes_back<short>(scratch, kind(SAMPLEFORMAT_INT), "int16");
      comes_back<int>(scratch, kind(SAMPLEFORMAT_INT), "int32");
      comes_back<float>(scratch, kind(SAMPLEFORMAT_IEEEFP), "float32");
      comes_back<double>(scratch, kind(SAMPLEFORMAT_IEEEFP), "float64");
    }
}

TEST(TiffPages, ComeBackFromEveryCompression) {
  const Scratch scratch;
  for (const int compression :
       {COMPRESSION_LZW, COMPRESSION_ADOBE_DEFLATE, COMPRESSION_PACKBITS, COMPRESSION_LZMA, COMPRESSION_ZSTD})
    for (const std::uint32_t tile : {0u, 16u})
      if (TIFFIsCODECConfigured(static_cast<std::uint16_t>(compression)))
        comes_back<int>(scratch, {"w", compression, SAMPLEFORMAT_INT, 1, 1, tile}, "int32");
}

TEST(TiffPages, AreAStackWithoutTheirThumbnails) {
  const Scratch scratch;
  write_tiff<int>(scratch / "x.tif", {numbers<int>(12), std::vector<int>(12, 5)}, 3, 4, {});
  TIFF* tiff = TIFFOpen((scratch / "x.tif").c_str(), "a");
  TIFFClose(tiff);
  EXPECT_EQ(TiffPages(scratch / "x.tif").count(), 2);
  EXPECT_EQ(read(scratch / "x.tif", 1), std::vector<double>(12, 5));
  TiffKind thumbnail;
  thumbnail.mode = "a";
  thumbnail.subfile = FILETYPE_REDUCEDIMAGE;
  write_tiff<unsigned char>(scratch / "x.tif", {std::vector<unsigned char>(2, 9)}, 1, 2, thumbnail);
  EXPECT_EQ(TiffPages(scratch / "x.tif").count(), 2);
  write_tiff<int>(scratch / "x.tif", {std::vector<int>(6, 9)}, 2, 3, {.mode = "a"});
  EXPECT_NE(refusal<DataError>([&] { TiffPages(scratch / "x.tif"); }).find("Page 3"), std::string::npos);
}

TEST(TiffPages, OfColourAreRefusedInWords) {
  const Scratch scratch;
  const auto words = [&] { return refusal<DataError>([&] { TiffPages(scratch / "x.tif"); }); };
  TiffKind kind;
  kind.samples = 3;
  kind.photometric = PHOTOMETRIC_RGB;
  write_tiff<unsigned char>(scratch / "x.tif", {numbers<unsigned char>(3 * 12)}, 3, 4, kind);
  EXPECT_NE(words().find("a colour picture"), std::string::npos) << words();
  kind.samples = 2;
  kind.photometric = PHOTOMETRIC_MINISBLACK;
  write_tiff<unsigned char>(scratch / "x.tif", {numbers<unsigned char>(2 * 12)}, 3, 4, kind);
  EXPECT_NE(words().find("2 samples a pixel"), std::string::npos) << words();
}

TEST(TiffPages, ThatAreTruncatedOrClaimTooMuchAreRefused) {
  const Scratch scratch;
  const auto words = [&] { return refusal<DataError>([&] { read(scratch / "bad.tif"); }); };
  for (const int compression : {COMPRESSION_NONE, COMPRESSION_ADOBE_DEFLATE}) {
    write_tiff<int>(scratch / "x.tif", {numbers<int>(60 * 50)}, 60, 50, {"w", compression, SAMPLEFORMAT_INT});
    const std::string whole = read_bytes(scratch / "x.tif");
    for (const double share : {0.01, 0.3, 0.7, 0.98}) {
      write_bytes(scratch / "bad.tif",
                  whole.substr(0, static_cast<std::size_t>(share * static_cast<double>(whole.size()))));
      EXPECT_NE(words().find("broken"), std::string::npos) << share << words();
    }
  }
  // A claim of a huge picture in a small file: refused before memory is asked for.
  TIFF* tiff = TIFFOpen((scratch / "bad.tif").c_str(), "w");
  TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, 16000);
  TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, 16000);
  TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, 32);
  TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, 1);
  TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_MINISBLACK);
  TIFFSetField(tiff, TIFFTAG_COMPRESSION, COMPRESSION_ADOBE_DEFLATE);
  TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, 16000);
  unsigned char few[] = {1, 2, 3, 4, 5, 6, 7, 8};
  TIFFWriteRawStrip(tiff, 0, few, sizeof few);
  TIFFClose(tiff);
  EXPECT_NE(words().find("8 bytes are stored for 16000 x 16000"), std::string::npos) << words();
}

}  // namespace
}  // namespace sievelight
