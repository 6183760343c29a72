// SPDX-License-Identifier: GPL-3.0-or-later
/// What is fuzzed: one function a reader. Each takes bytes and returns when the reader answered as promised, with a
/// result that holds its own checks or with one of our three errors. Anything else (another exception, a crash, a hang,
/// a sanitizer's report) is a defect. libfuzzer_main.cpp runs one of them for hours, replay.cpp all of them for
/// seconds.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>

namespace sievelight::fuzz {

using Input = std::span<const std::uint8_t>;

void frames_hdf5(Input input);     // any bytes as an HDF5 file of frames
void frames_nexus(Input input);    // an HDF5 file of frames that the library wrote, with hostile content
void frames_tiff(Input input);     // any bytes as TIFF
void frames_cbf(Input input);      // any bytes as CBF
void frames_npy(Input input);      // any bytes as NPY
void frames_text(Input input);     // any bytes as a strip of text
void mask_file(Input input);       // any bytes as a mask
void chunk(Input input);           // a raw HDF5 chunk and its filters
void curve_nxcansas(Input input);  // any bytes as NXcanSAS
void curve_fields(Input input);    // a NXcanSAS file that the library wrote, with hostile content
void curve_xml(Input input);       // any bytes as canSAS XML
void curve_text(Input input);      // any bytes as columns of text or our CSV
void words(Input input);           // formulas, units, header lines

struct Harness {
  const char* name;
  void (*run)(Input);
};
inline constexpr Harness harnesses[] = {
    {"frames_hdf5", frames_hdf5},
    {"frames_nexus", frames_nexus},
    {"frames_tiff", frames_tiff},
    {"frames_cbf", frames_cbf},
    {"frames_npy", frames_npy},
    {"frames_text", frames_text},
    {"mask_file", mask_file},
    {"chunk", chunk},
    {"curve_nxcansas", curve_nxcansas},
    {"curve_fields", curve_fields},
    {"curve_xml", curve_xml},
    {"curve_text", curve_text},
    {"words", words},
};

/// The path of this process's scratch file (in memory where the machine has /dev/shm).
const std::string& scratch_path();
/// Writes the bytes to the scratch file and gives its path.
const std::string& as_file(Input input);
/// Stops the process with words: what came back is not what was promised.
[[noreturn]] void defect(const std::string& words);

/// Takes small choices off the front of the input; zeros when it has ended.
class Choices {
 public:
  explicit Choices(Input input) : left_(input) {}
  std::uint8_t byte() {
    if (left_.empty()) return 0;
    const std::uint8_t value = left_.front();
    left_ = left_.subspan(1);
    return value;
  }
  std::size_t below(std::size_t n) { return byte() % n; }
  std::uint64_t number(int bytes) {
    std::uint64_t value = 0;
    for (int i = 0; i < bytes; ++i) value = value << 8 | byte();
    return value;
  }
  Input bytes(std::size_t n) {
    const Input out = left_.first(n < left_.size() ? n : left_.size());
    left_ = left_.subspan(out.size());
    return out;
  }
  std::string text(std::size_t n) {
    const Input out = bytes(n);
    return {out.begin(), out.end()};
  }
  Input rest() { return bytes(left_.size()); }
  bool empty() const { return left_.empty(); }

 private:
  Input left_;
};

}  // namespace sievelight::fuzz
