// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/npy_frames.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/frames/npy_header.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cstring>
#include <fstream>

namespace sievelight {
namespace {

using Eigen::Index;
using Bytes = std::vector<unsigned char>;

FrameLayout layout_of(const NpyHeader& header, const std::string& path) {
  std::vector<std::uint64_t> shape = header.shape;
  if (shape.size() > 3)
    throw DataError(fmt::format("'{}' has {} dimensions ({}).", path, shape.size(), fmt::join(shape, " x ")),
                    "A frame has 2 dimensions (rows, columns), a stack 3 with the exposures first.");
  while (shape.size() < 3) shape.insert(shape.begin(), 1);
  require_sensible_size(path, shape[0], shape[1], shape[2]);
  return {"NPY",
          "",
          header.type.name,
          "none",
          static_cast<Index>(shape[0]),
          static_cast<Index>(shape[1]),
          static_cast<Index>(shape[2])};
}

void read_bytes(std::ifstream& file, std::uint64_t at, Bytes& into, const std::string& path) {
  file.seekg(static_cast<std::streamoff>(at));
  if (!file.read(reinterpret_cast<char*>(into.data()), static_cast<std::streamsize>(into.size()))) throw_changed(path);
}

// Calls use(exposure's bytes, row by row) for each exposure wanted. In Fortran's order the exposures of a stack lie
// interleaved; then a column of all rows and exposures is read at a time.
template <typename Use>
void for_exposures(const std::string& path, const NpyHeader& header, const FrameLayout& layout,
                   const std::vector<Index>& indices, const Use& use) {
  std::ifstream file(path, std::ios::binary);
  const auto size = header.type.size;
  const auto rows = static_cast<std::size_t>(layout.rows), columns = static_cast<std::size_t>(layout.columns);
  const auto count = static_cast<std::size_t>(layout.count);
  if (!header.fortran) {
    Bytes frame(rows * columns * size);
    for (const Index index : indices) {
      read_bytes(file, header.offset + static_cast<std::uint64_t>(index) * frame.size(), frame, path);
      use(frame);
    }
    return;
  }
  // A few exposures at a time, so that memory stays bounded for long stacks.
  constexpr std::size_t at_once = 16;
  Bytes plane(count * rows * size);
  for (std::size_t done = 0; done < indices.size(); done += at_once) {
    std::vector<Bytes> some(std::min(at_once, indices.size() - done), Bytes(rows * columns * size));
    for (std::size_t column = 0; column < columns; ++column) {
      read_bytes(file, header.offset + column * plane.size(), plane, path);
      for (std::size_t k = 0; k < some.size(); ++k)
        for (std::size_t row = 0; row < rows; ++row)
          std::memcpy(some[k].data() + (row * columns + column) * size,
                      plane.data() + (row * count + static_cast<std::size_t>(indices[done + k])) * size, size);
    }
    for (const Bytes& frame : some) use(frame);
  }
}

class NpyFrames : public FrameSource {
 public:
  explicit NpyFrames(const std::string& path) : path_(path), header_(read_npy_header(path)) {
    layout = layout_of(header_, path);
    if (header_.truth)
      throw DataError(fmt::format("'{}' holds true and false, not counts.", path),
                      "Is it a mask? Read it with read_mask.");
    facts.metadata.notes = {"an NPY file says nothing of the geometry", "no exposure time in the file"};
  }

  CountTally sum(const std::vector<Index>& indices, double saturation, Image& counts, Mask& masked) const override {
    if (read_npy_header(path_) != header_) throw_changed(path_);
    counts.setZero(layout.rows, layout.columns);
    CountTally tally;
    for_exposures(path_, header_, layout, indices, [&](const Bytes& frame) {
      tally += add_frame(header_.type, frame.data(), saturation, counts, masked);
    });
    return tally;
  }

 private:
  std::string path_;
  NpyHeader header_;
};

}  // namespace

std::unique_ptr<FrameSource> open_npy_frames(const std::string& path) { return std::make_unique<NpyFrames>(path); }

Image read_npy_image(const std::string& path) {
  const NpyHeader header = read_npy_header(path);
  const FrameLayout layout = layout_of(header, path);
  if (layout.count != 1)
    throw DataError(fmt::format("'{}' is {}.", path, fmt::join(header.shape, " x ")),
                    "Give one array of (rows, columns).");
  Image out(layout.rows, layout.columns);
  for_exposures(path, header, layout, {0}, [&](const Bytes& frame) {
    to_doubles(header.type, frame.data(), static_cast<std::size_t>(out.size()), out.data());
  });
  return out;
}

}  // namespace sievelight
