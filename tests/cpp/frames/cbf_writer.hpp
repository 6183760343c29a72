// SPDX-License-Identifier: GPL-3.0-or-later
/// CBF files for the tests, written by the crystallographic union's own library.
#pragma once

#include <cbf.h>

#include <cstdio>
#include <stdexcept>
#include <string>
#include <vector>

namespace sievelight {

class CbfWriter {
 public:
  CbfWriter() {
    must(cbf_make_handle(&cbf_));
    must(cbf_new_datablock(cbf_, "frame"));
  }
  ~CbfWriter() { cbf_free_handle(cbf_); }
  CbfWriter(const CbfWriter&) = delete;
  CbfWriter& operator=(const CbfWriter&) = delete;

  /// A loop (or a single row) of text values.
  CbfWriter& items(const char* category, const std::vector<std::string>& columns,
                   const std::vector<std::vector<std::string>>& rows) {
    must(cbf_require_category(cbf_, category));
    for (const std::string& column : columns) must(cbf_new_column(cbf_, column.c_str()));
    for (const auto& row : rows) {
      must(cbf_new_row(cbf_));
      for (std::size_t i = 0; i < columns.size(); ++i) {
        must(cbf_find_column(cbf_, columns[i].c_str()));
        must(cbf_set_value(cbf_, row[i].c_str()));
      }
    }
    return *this;
  }

  /// The small header of '#' lines.
  CbfWriter& header(const std::string& text) {
    must(cbf_require_category(cbf_, "array_data"));
    must(cbf_require_column(cbf_, "header_contents"));
    must(cbf_require_row(cbf_, text.c_str()));
    must(cbf_set_typeofvalue(cbf_, "text"));
    return *this;
  }

  /// One image more; T is int, unsigned, short, ..., float or double.
  template <typename T>
  CbfWriter& image(const std::vector<T>& values, std::size_t columns, std::size_t rows, unsigned compression,
                   std::size_t slow = 0) {
    must(cbf_require_category(cbf_, "array_data"));
    must(cbf_require_column(cbf_, "data"));
    unsigned count = 0;
    must(cbf_count_rows(cbf_, &count));
    if (images_ < count)
      must(cbf_select_row(cbf_, images_));
    else
      must(cbf_new_row(cbf_));
    ++images_;
    auto* data = const_cast<T*>(values.data());
    if constexpr (std::is_floating_point_v<T>)
      must(cbf_set_realarray_wdims_fs(cbf_, compression, static_cast<int>(images_), data, sizeof(T), values.size(),
                                      "little_endian", columns, rows, slow, 0));
    else
      must(cbf_set_integerarray_wdims_fs(cbf_, compression, static_cast<int>(images_), data, sizeof(T),
                                         std::is_signed_v<T>, values.size(), "little_endian", columns, rows, slow, 0));
    return *this;
  }

  /// Readable and with a checksum over each image.
  void write(const std::string& path, int encoding = ENC_NONE) {
    std::FILE* file = std::fopen(path.c_str(), "wb+");
    must(cbf_write_file(cbf_, file, 1, CBF, MSG_DIGEST | MIME_HEADERS, encoding));
  }

 private:
  static void must(int error) {
    if (error != 0) throw std::runtime_error("CBF library: error " + std::to_string(error));
  }
  cbf_handle cbf_ = nullptr;
  unsigned images_ = 0;
};

}  // namespace sievelight
