// SPDX-License-Identifier: GPL-3.0-or-later
/// A CBF/imgCIF file: its items as text, its images as numbers.
/// Read by our own parser (cif_text.hpp): fuzzing ends in the crystallographic union's CBF library within some hundred
/// damaged files. Byte offsets and plain numbers are decoded here; what only that library undoes (packed, canonical,
/// nibble offsets) is refused unless the environment variable SIEVELIGHT_CBF_LIBRARY is "allow".
/// Source: H. J. Bernstein, A. P. Hammersley, International Tables for Crystallography G (2005), chapter 2.3.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/frames/cif_text.hpp"
#include "sievelight/frames/stored_type.hpp"

#include <string>
#include <vector>

namespace sievelight {

class CbfFile {
 public:
  /// DataError when the file is missing, truncated, broken, or holds no image.
  explicit CbfFile(const std::string& path);

  Eigen::Index count() const { return static_cast<Eigen::Index>(text_.sections().size()) * slow_; }
  Eigen::Index rows() const { return rows_; }
  Eigen::Index columns() const { return columns_; }
  const StoredType& type() const { return type_; }
  const std::string& compression() const { return compression_; }

  /// The numbers of one exposure, row by row, in the machine's byte order. DataError when a checksum of the file
  /// differs or they cannot be decoded.
  std::vector<unsigned char> read(Eigen::Index exposure) const;

  /// Values of a data item, one a row of its category ("" where the file has '.' or '?'); empty when there is none.
  std::vector<std::string> values(const std::string& category, const std::string& column) const {
    return text_.values(category, column);
  }

 private:
  void look_at_section(std::size_t index);
  std::vector<unsigned char> decode(std::size_t index, std::size_t elements) const;

  std::string path_;
  CifText text_;
  Eigen::Index slow_ = 1, rows_ = 0, columns_ = 0;
  StoredType type_;
  bool big_endian_ = false;
  std::string compression_;
};

}  // namespace sievelight
