// SPDX-License-Identifier: GPL-3.0-or-later
/// A folder of its own for one test, removed at its end.
#pragma once

#include <filesystem>
#include <fstream>
#include <random>
#include <sstream>
#include <string>

namespace sievelight {

class Scratch {
 public:
  Scratch() {
    std::random_device random;
    do folder_ = std::filesystem::temp_directory_path() / ("sievelight-test-" + std::to_string(random()));
    while (!std::filesystem::create_directory(folder_));
  }
  ~Scratch() {
    std::error_code ignored;
    std::filesystem::remove_all(folder_, ignored);
  }
  Scratch(const Scratch&) = delete;
  Scratch& operator=(const Scratch&) = delete;
  std::string folder() const { return folder_.string(); }
  std::string operator/(const std::string& name) const { return (folder_ / name).string(); }

 private:
  std::filesystem::path folder_;
};

inline void write_bytes(const std::string& path, const std::string& bytes) {
  std::ofstream(path, std::ios::binary) << bytes;
}

inline std::string read_bytes(const std::string& path) {
  std::ostringstream out;
  out << std::ifstream(path, std::ios::binary).rdbuf();
  return out.str();
}

}  // namespace sievelight
