// SPDX-License-Identifier: GPL-3.0-or-later
/// A CBF/imgCIF file through the crystallographic union's CBF library: its items as text, its images as numbers.
/// Source: H. J. Bernstein, A. P. Hammersley, International Tables for Crystallography G (2005), chapter 2.3.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/frames/stored_type.hpp"

#include <cstdint>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

namespace sievelight {

/// Open as long as this lives; the library is used by one thread at a time, so keep it short.
class CbfFile {
 public:
  /// DataError when the file is missing, truncated, broken (its checksums are compared), or holds no image.
  explicit CbfFile(const std::string& path);
  ~CbfFile();
  CbfFile(const CbfFile&) = delete;
  CbfFile& operator=(const CbfFile&) = delete;

  Eigen::Index count() const { return sections_ * slow_; }
  Eigen::Index rows() const { return rows_; }
  Eigen::Index columns() const { return columns_; }
  const StoredType& type() const { return type_; }
  const std::string& compression() const { return compression_; }

  /// The numbers of one exposure, row by row. DataError when they cannot be decoded.
  std::vector<unsigned char> read(Eigen::Index exposure) const;

  /// Values of a data item, one a row of its category ("" where the file has '.' or '?'); empty when there is none.
  std::vector<std::string> values(const std::string& category, const std::string& column) const;

 private:
  struct Handle;
  void check_sections() const;
  void look_at_section(Eigen::Index section);
  bool select(Eigen::Index section) const;

  std::unique_lock<std::mutex> lock_;
  std::string path_;
  std::unique_ptr<Handle> handle_;
  Eigen::Index sections_ = 0, slow_ = 1, rows_ = 0, columns_ = 0;
  StoredType type_;
  std::string compression_;
  std::uint64_t file_bytes_ = 0;
};

}  // namespace sievelight
