// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/mask.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gsl.hpp"
#include "sievelight/base/parallel.hpp"
#include "sievelight/base/regular_file.hpp"
#include "sievelight/frames/count_tails.hpp"
#include "sievelight/frames/frame_source.hpp"
#include "sievelight/frames/nexus_tree.hpp"
#include "sievelight/frames/npy_frames.hpp"
#include "sievelight/frames/tiff_pages.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <set>
#include <vector>

namespace sievelight {
namespace {

using Eigen::Index;

// Fewer neighbours than this cannot say what a pixel should be.
constexpr std::size_t fewest_neighbours = 6;

// Four Poisson standard deviations: nearer than that the tail is never below any sensible chance of false alarm.
bool far_apart(double n, double level) { return std::abs(n - level) > 4 * std::sqrt(level); }

DataError other_shape(const std::string& label, const std::string& shape, Index rows, Index columns) {
  return DataError(fmt::format("{} is {}, the frames are {} x {} (rows x columns).", label, shape, rows, columns),
                   "Make the mask from a frame of the same detector, in the same orientation and binning.");
}

Mask read_hdf5_mask(const std::string& path, Index rows, Index columns) {
  const auto lock = hdf5_lock();
  const H5Handle file = h5_open(path);
  std::vector<const NexusObject*> found;
  const std::vector<NexusObject> objects = list_objects(file.get());
  for (const char* name : {"pixel_mask", "mask"}) {
    std::set<std::pair<unsigned long, haddr_t>> seen;
    for (const NexusObject& object : objects)
      if (object.is_dataset && object.path.substr(object.path.rfind('/') + 1) == name &&
          seen.insert({object.file, object.address}).second)
        found.push_back(&object);
    if (!found.empty()) break;
  }
  if (found.empty())
    throw DataError(fmt::format("'{}' holds no mask: neither a data set pixel_mask nor one named mask.", path),
                    "Save the mask as a data set named mask, non-zero where a pixel must not be used.");
  Mask out = Mask::Constant(rows, columns, false);
  for (const NexusObject* object : found) {
    std::vector<hsize_t> shape = object->shape;
    if (shape.size() == 3 && shape.front() == 1) shape.erase(shape.begin());
    if (shape.size() == 1 && rows == 1) shape.insert(shape.begin(), 1);  // of a strip
    if (shape != std::vector<hsize_t>{static_cast<hsize_t>(rows), static_cast<hsize_t>(columns)})
      throw other_shape(fmt::format("The mask '{}' in '{}'", object->path, path),
                        fmt::format("{}", fmt::join(object->shape, " x ")), rows, columns);
    const auto values = h5_numbers(file.get(), object->path);
    if (!values)
      throw DataError(fmt::format("The mask '{}' in '{}' does not hold numbers.", object->path, path),
                      "Save it as integers or booleans, non-zero where a pixel must not be used.");
    out = out || Eigen::Map<const Image>(values->data(), rows, columns) != 0.0;
  }
  return out;
}

Mask from_image(const Image& image, const std::string& path, Index rows, Index columns) {
  if (image.rows() != rows || image.cols() != columns)
    throw other_shape(fmt::format("The mask in '{}'", path), fmt::format("{} x {}", image.rows(), image.cols()), rows,
                      columns);
  return image != 0.0;
}

Image read_tiff_image(const std::string& path) {
  TiffPages pages(path, true);
  if (pages.count() != 1)
    throw DataError(fmt::format("'{}' holds {} pages.", path, pages.count()), "Give the mask as a single page.");
  Image out(pages.rows(), pages.columns());
  to_doubles(pages.type(), pages.read(0).data(), static_cast<std::size_t>(out.size()), out.data());
  return out;
}

}  // namespace

Mask read_mask(const std::string& path, Index rows, Index columns) {
  require_regular_file(path);
  std::ifstream file(path, std::ios::binary);
  std::string head(8, '\0');
  file.read(head.data(), 8);
  if (head.rfind("\x93NUMPY", 0) == 0) return from_image(read_npy_image(path), path, rows, columns);
  if (is_tiff(head)) return from_image(read_tiff_image(path), path, rows, columns);
  return read_hdf5_mask(path, rows, columns);
}

Mask unite(const Mask& a, const Mask& b) {
  if (a.size() == 0) return b;
  if (b.size() == 0) return a;
  if (a.rows() != b.rows() || a.cols() != b.cols())
    throw InputError(
        fmt::format("masks of {} x {} and {} x {} cannot be united.", a.rows(), a.cols(), b.rows(), b.cols()),
        "Use masks of the same detector, in the same orientation and binning.");
  return a || b;
}

Mask find_defects(const Image& counts, const Mask& masked, double false_alarm, int radius) {
  if (!(false_alarm > 0 && false_alarm < 1) || radius < 1)
    throw InputError(fmt::format("false_alarm is {} and radius {}.", false_alarm, radius),
                     "Give a chance between 0 and 1 and a radius of at least 1.");
  const Index rows = counts.rows(), columns = counts.cols();
  const Mask skip = masked.size() == 0 ? Mask::Constant(rows, columns, false) : masked;
  if (skip.rows() != rows || skip.cols() != columns)
    throw InputError(fmt::format("the frame is {} x {} and its mask {} x {}.", rows, columns, skip.rows(), skip.cols()),
                     "Use a mask of the same detector, in the same orientation and binning.");
  quiet_gsl();
  Mask defects = Mask::Constant(rows, columns, false);
  parallel_for(static_cast<std::size_t>(rows), [&](std::size_t r) {
    const Index row = static_cast<Index>(r);
    std::vector<double> around;
    for (Index column = 0; column < columns; ++column) {
      if (skip(row, column)) continue;
      around.clear();
      for (Index y = std::max<Index>(0, row - radius); y <= std::min(rows - 1, row + radius); ++y)
        for (Index x = std::max<Index>(0, column - radius); x <= std::min(columns - 1, column + radius); ++x)
          if ((y != row || x != column) && !skip(y, x)) around.push_back(counts(y, x));
      if (around.size() < fewest_neighbours) continue;
      const auto middle = around.begin() + static_cast<std::ptrdiff_t>(around.size() / 2);
      std::nth_element(around.begin(), middle, around.end());
      const double median = *middle;
      std::nth_element(around.begin(), around.begin() + 1, middle);
      std::nth_element(middle + 1, around.end() - 2, around.end());
      const double second_lowest = around[1], second_highest = around[around.size() - 2];
      // As far again beyond the second neighbour as that one lies from the median: structure as sharp as a ring.
      const double high = 2 * second_highest - median, low = std::max(0.0, 2 * second_lowest - median);
      const double n = counts(row, column), m = static_cast<double>(around.size());
      if (n > high && far_apart(n, high))
        defects(row, column) = chance_of_more_than(n - 1, high, m) < false_alarm;
      else if (n < low && far_apart(n, low))
        defects(row, column) = chance_of_at_most(n, low, m) < false_alarm;
    }
  });
  return defects;
}

}  // namespace sievelight
