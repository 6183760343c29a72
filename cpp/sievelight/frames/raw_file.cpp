// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/raw_file.hpp"

#include <fcntl.h>
#include <unistd.h>
#include <cerrno>
#include <utility>

namespace sievelight {

RawFile::RawFile(const std::string& path) : descriptor_(open(path.c_str(), O_RDONLY | O_CLOEXEC)) {}

RawFile::RawFile(RawFile&& other) noexcept : descriptor_(std::exchange(other.descriptor_, -1)) {}

RawFile& RawFile::operator=(RawFile&& other) noexcept {
  std::swap(descriptor_, other.descriptor_);
  return *this;
}

RawFile::~RawFile() {
  if (descriptor_ >= 0) close(descriptor_);
}

bool RawFile::read(std::uint64_t offset, unsigned char* to, std::size_t n) const {
  while (n > 0) {
    const ssize_t got = pread(descriptor_, to, n, static_cast<off_t>(offset));
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) return false;
    to += got;
    offset += static_cast<std::uint64_t>(got);
    n -= static_cast<std::size_t>(got);
  }
  return true;
}

void RawFile::will_want([[maybe_unused]] std::uint64_t offset, [[maybe_unused]] std::uint64_t n) const {
#ifdef POSIX_FADV_WILLNEED
  posix_fadvise(descriptor_, static_cast<off_t>(offset), static_cast<off_t>(n), POSIX_FADV_WILLNEED);
#endif
}

}  // namespace sievelight
