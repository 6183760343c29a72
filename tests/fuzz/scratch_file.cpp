// SPDX-License-Identifier: GPL-3.0-or-later
#include "harness.hpp"

#include <unistd.h>
#include <cstdio>
#include <cstdlib>
#include <filesystem>

namespace sievelight::fuzz {
namespace {

struct ScratchFile {
  ScratchFile() {
    const std::filesystem::path shared = "/dev/shm";
    std::error_code failed;
    const auto parent = std::filesystem::is_directory(shared, failed) ? shared : std::filesystem::temp_directory_path();
    folder = parent / ("sievelight-fuzz-" + std::to_string(::getpid()));
    std::filesystem::create_directories(folder);
    path = (folder / "input").string();
    ::setenv("SIEVELIGHT_THREADS", "1", 0);
  }
  ~ScratchFile() {
    std::error_code ignored;
    std::filesystem::remove_all(folder, ignored);
  }
  std::filesystem::path folder;
  std::string path;
};

}  // namespace

const std::string& scratch_path() {
  static const ScratchFile file;
  return file.path;
}

const std::string& as_file(Input input) {
  std::FILE* file = std::fopen(scratch_path().c_str(), "wb");
  if (!file || std::fwrite(input.data(), 1, input.size(), file) != input.size()) defect("no room for the scratch file");
  std::fclose(file);
  return scratch_path();
}

void defect(const std::string& words) {
  std::fprintf(stderr, "DEFECT: %s\n", words.c_str());
  std::abort();
}

}  // namespace sievelight::fuzz
