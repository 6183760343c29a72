// SPDX-License-Identifier: GPL-3.0-or-later
/// Bytes of a file from any place, by several threads at once.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>

namespace sievelight {

class RawFile {
 public:
  RawFile() = default;
  /// Stays closed when the file cannot be opened.
  explicit RawFile(const std::string& path);
  RawFile(const RawFile&) = delete;
  RawFile& operator=(const RawFile&) = delete;
  RawFile(RawFile&& other) noexcept;
  RawFile& operator=(RawFile&& other) noexcept;
  ~RawFile();
  explicit operator bool() const { return descriptor_ >= 0; }

  /// True when all `n` bytes from `offset` on were read.
  bool read(std::uint64_t offset, unsigned char* to, std::size_t n) const;
  /// Says that these bytes will be wanted: the system fetches them while something else is done.
  void will_want(std::uint64_t offset, std::uint64_t n) const;

 private:
  int descriptor_ = -1;
};

}  // namespace sievelight
