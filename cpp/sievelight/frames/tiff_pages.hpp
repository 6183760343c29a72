// SPDX-License-Identifier: GPL-3.0-or-later
/// The pages of a TIFF file as numbers: one sample a pixel, 8 to 64 bits, integers or floating point, strips or tiles,
/// either byte order, BigTIFF, whatever compression libtiff was built with.
/// Source of the tags: TIFF Revision 6.0, Adobe 1992; sample formats in its section 19.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/frames/stored_type.hpp"

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

namespace sievelight {

/// True when a file that begins with these bytes is TIFF or BigTIFF, in either byte order.
bool is_tiff(const std::string& head);

class TiffPages {
 public:
  /// DataError when the file is broken, its pages differ in size or type, or they are colour, palette or of several
  /// samples a pixel. Reduced copies (thumbnails) are passed over. `bits` = also pages of one bit a pixel, for masks.
  explicit TiffPages(const std::string& path, bool bits = false);
  ~TiffPages();
  TiffPages(const TiffPages&) = delete;
  TiffPages& operator=(const TiffPages&) = delete;

  Eigen::Index count() const { return static_cast<Eigen::Index>(pages_.size()); }
  Eigen::Index rows() const { return rows_; }
  Eigen::Index columns() const { return columns_; }
  const StoredType& type() const { return type_; }  // as read() gives them: in the machine's byte order
  const std::string& compression() const { return compression_; }
  const std::string& description() const { return description_; }  // of the first page; printable characters only
  const std::vector<std::string>& notes() const { return notes_; }

  /// The numbers of one page, row by row. DataError when they cannot be decoded.
  std::vector<unsigned char> read(Eigen::Index page);

 private:
  struct Handle;
  void look_at_page();
  std::uint64_t stored_bytes();
  std::string broken() const;

  std::string path_;
  bool bits_ = false;
  std::uint64_t file_bytes_ = 0;
  std::unique_ptr<Handle> handle_;
  std::vector<std::uint64_t> pages_;  // offsets of their directories
  Eigen::Index rows_ = 0, columns_ = 0;
  bool one_bit_ = false;
  StoredType type_;
  std::string compression_, description_;
  std::vector<std::string> notes_;
};

}  // namespace sievelight
