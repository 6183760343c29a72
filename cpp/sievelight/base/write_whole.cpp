// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/write_whole.hpp"

#include "sievelight/base/error.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <filesystem>
#include <random>
#include <regex>
#include <system_error>

namespace sievelight {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void refuse(const std::string& path, int error) {
  const std::string reason = std::generic_category().message(error);
  switch (error) {
    case ENOSPC:
    case EDQUOT:
    case EFBIG:
      throw DataError(fmt::format("'{}' cannot be written: the disk or its quota is full ({}).", path, reason),
                      "Free some space and run again; what is finished stands.");
    case EACCES:
    case EPERM:
    case EROFS:
      throw DataError(fmt::format("'{}' cannot be written ({}).", path, reason),
                      "Check the rights on its folder, or write to another one.");
    default:
      throw DataError(fmt::format("'{}' cannot be written ({}).", path, reason),
                      "Check that its folder is there, and the disk.");
  }
}

// Calls again what a signal interrupted.
template <typename Call>
auto again(const Call& call) {
  auto result = call();
  while (result < 0 && errno == EINTR) result = call();
  return result;
}

void write_all(int file, const std::string& bytes, const std::string& path) {
  std::size_t done = 0;
  while (done < bytes.size()) {
    const ssize_t n = again([&] { return ::write(file, bytes.data() + done, bytes.size() - done); });
    if (n < 0) refuse(path, errno);
    if (n == 0) refuse(path, ENOSPC);
    done += static_cast<std::size_t>(n);
  }
}

fs::path folder_of(const fs::path& path) { return path.has_parent_path() ? path.parent_path() : fs::path("."); }

// A file on its way: removed unless it takes its name.
class Part {
 public:
  Part(std::string path, const std::string& bytes) : path_(std::move(path)), target_(path_) {
    std::error_code ignored;
    if (fs::is_symlink(target_, ignored)) target_ = fs::weakly_canonical(target_, ignored);
    struct stat seen {};
    const bool there = ::stat(target_.c_str(), &seen) == 0;
    if (there && S_ISDIR(seen.st_mode)) refuse(path_, EISDIR);
    direct_ = there && !S_ISREG(seen.st_mode);
    open();
    try {
      write_all(file_, bytes, path_);
      if (!direct_ && again([&] { return ::fsync(file_); }) < 0) refuse(path_, errno);
      const int closed = ::close(file_);
      file_ = -1;
      if (closed < 0 && errno != EINTR) refuse(path_, errno);
    } catch (...) {
      drop();
      throw;
    }
  }
  Part(Part&& other) noexcept
      : path_(std::move(other.path_)),
        target_(std::move(other.target_)),
        part_(std::move(other.part_)),
        file_(std::exchange(other.file_, -1)),
        direct_(std::exchange(other.direct_, true)) {}
  Part(const Part&) = delete;
  Part& operator=(const Part&) = delete;
  Part& operator=(Part&&) = delete;
  ~Part() { drop(); }

  void take_name() {
    if (direct_) return;
    if (::rename(part_.c_str(), target_.c_str()) < 0) refuse(path_, errno);
    direct_ = true;
    flush_folder(folder_of(target_).string());
  }

 private:
  void open() {
    if (direct_) {
      file_ = again([&] { return ::open(target_.c_str(), O_WRONLY | O_CLOEXEC); });
      if (file_ < 0) refuse(path_, errno);
      return;
    }
    // Two machines may share a folder, and a task may be done twice: no two writers share a temporary name.
    thread_local std::random_device random;
    for (;;) {
      part_ = folder_of(target_) / fmt::format(".{}-{:08x}{:08x}.part", ::getpid(), random(), random());
      file_ = again([&] { return ::open(part_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666); });
      if (file_ >= 0) return;
      if (errno != EEXIST) refuse(path_, errno);
    }
  }
  void drop() {
    if (file_ >= 0) ::close(std::exchange(file_, -1));
    if (!direct_) ::unlink(part_.c_str());
    direct_ = true;
  }

  std::string path_;  // as it was asked for
  fs::path target_, part_;
  int file_ = -1;
  bool direct_ = false;  // nothing to rename: no regular file, or done
};

}  // namespace

void make_folders(const std::string& folder) {
  std::error_code ignored;
  if (folder.empty() || fs::is_directory(folder, ignored)) return;
  const std::string above = folder_of(folder).string();
  if (above != folder) make_folders(above);
  if (::mkdir(folder.c_str(), 0777) < 0 && errno != EEXIST) refuse(folder, errno);
  flush_folder(above);
}

void flush_folder(const std::string& folder) {
  const int file = again([&] { return ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC); });
  if (file < 0) return;  // one may write into a folder that may not be read
  const int done = again([&] { return ::fsync(file); });
  const int error = errno;
  ::close(file);
  // Some network file systems flush names by themselves and refuse to be asked.
  if (done < 0 && error != EINVAL && error != ENOTSUP && error != EBADF && error != EROFS) refuse(folder, error);
}

void write_whole(const std::string& path, const std::string& bytes) { Part(path, bytes).take_name(); }

void write_whole(const std::vector<std::pair<std::string, std::string>>& files) {
  std::vector<Part> parts;
  parts.reserve(files.size());
  for (const auto& [path, bytes] : files) parts.emplace_back(path, bytes);
  for (Part& part : parts) part.take_name();
}

int remove_leftovers(const std::string& folder) {
  static const std::regex named(R"(\.[0-9]+-[0-9a-f]{16}\.part)");
  int removed = 0;
  std::error_code ignored;
  for (auto it = fs::directory_iterator(folder, ignored); it != fs::directory_iterator(); it.increment(ignored)) {
    if (ignored) break;
    if (std::regex_match(it->path().filename().string(), named) && ::unlink(it->path().c_str()) == 0) ++removed;
  }
  return removed;
}

}  // namespace sievelight
