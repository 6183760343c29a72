// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/read_curves.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/regular_file.hpp"
#include "sievelight/curve/cansas_xml.hpp"

#include <fmt/format.h>

#include <fstream>

namespace sievelight {

std::vector<NamedCurve> read_curves(const std::string& path) {
  require_regular_file(path);
  std::ifstream file(path, std::ios::binary);
  std::string head(512, '\0');
  file.read(head.data(), static_cast<std::streamsize>(head.size()));
  head.resize(static_cast<std::size_t>(file.gcount()));
  if (head.rfind("\x89HDF\r\n\x1a\n", 0) == 0) return read_nxcansas(path);
  const std::string byte_order_mark = "\xef\xbb\xbf";
  const auto first = head.find_first_not_of(" \t\r\n", head.rfind(byte_order_mark, 0) == 0 ? 3 : 0);
  if (first != std::string::npos && head[first] == '<') return read_cansas_xml(path);
  throw DataError(fmt::format("'{}' is neither NXcanSAS (HDF5) nor canSAS XML.", path),
                  "Columns of plain text are read with read_text_curve(), which needs their units.");
}

}  // namespace sievelight
