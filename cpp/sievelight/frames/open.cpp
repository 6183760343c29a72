// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/open.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/frames/find_frames.hpp"
#include "sievelight/frames/frame_data.hpp"
#include "sievelight/frames/nexus.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <limits>
#include <numeric>

namespace sievelight {
namespace {

using Eigen::Index;

H5Handle open_by_content(const std::string& path) {
  try {
    return h5_open(path);
  } catch (const DataError& error) {
    std::ifstream file(path, std::ios::binary);
    std::string head(8, '\0');
    file.read(head.data(), 8);
    if (head.rfind("II*", 0) == 0 || head.rfind("MM", 0) == 0 || head.rfind("\x93NUMPY", 0) == 0 ||
        head.rfind("###CBF", 0) == 0)
      throw DataError(fmt::format("'{}' is an image of a kind that is not read yet (TIFF, CBF or NPY).", path),
                      "Give the frame as HDF5/NeXus.");
    throw DataError(error.problem(), error.mend() + " Frames are read from HDF5/NeXus files.");
  }
}

}  // namespace

// The file is opened anew for each reading: a notebook may hold many of these, and HDF5 would go on showing the old
// content of a file that was written again under its open handle.
struct FrameFile::Impl {
  std::string path;
  OpenOptions options;
  std::string dataset, stored_type, filters;
  Index count = 0, rows = 0, columns = 0;
  NexusFacts facts;

  Frame read(const std::vector<Index>& indices) const {
    const H5Handle file = h5_open(path);
    const FrameData data(file.get(), path, dataset);
    if (data.count() < count || data.rows() != rows || data.columns() != columns || data.type().name != stored_type)
      throw DataError(fmt::format("'{}' has changed since it was opened.", path), "Open it again.");
    Frame frame;
    frame.masked = facts.masked.size() > 0 ? facts.masked : Mask::Constant(rows, columns, false);
    frame.metadata = facts.metadata;
    frame.exposures = static_cast<Index>(indices.size());
    const double saturation = facts.metadata.saturation_value.value_or(std::numeric_limits<double>::infinity());
    const CountTally tally = data.sum(indices, saturation, frame.counts, frame.masked);
    const std::string which = indices.size() == 1 ? fmt::format("Frame {}", indices.front())
                                                  : fmt::format("The sum of {} frames", indices.size());
    if (tally.negative_fractional > 0)
      throw DataError(fmt::format("{} of '{}' holds {} negative numbers that are not whole.", which, path,
                                  tally.negative_fractional),
                      "Something was subtracted before, so these are no counts and their errors are lost: give the raw "
                      "frames, and the dark frame as a row of its own.");
    if (frame.masked.all())
      throw DataError(fmt::format("{} of '{}' has no usable pixel: all {} are masked, {}.", which, path,
                                  frame.masked.size(), fmt::join(words_for(tally, saturation), ", ")),
                      "Check the saturation value and the pixel mask, and that the right data set was named.");
    for (const std::string& words : describe(tally, saturation)) frame.metadata.notes.push_back(words);
    if (facts.exposures_s.size() > 0) frame.exposure_s = facts.exposures_s(indices).sum();
    if (facts.monitors.size() > 0) frame.monitor = facts.monitors(indices).sum();
    return frame;
  }

  static std::vector<std::string> words_for(const CountTally& tally, double saturation) {
    std::vector<std::string> words = describe(tally, saturation);
    if (words.empty()) words.push_back("by the file's pixel_mask");
    return words;
  }
};

FrameFile::FrameFile(const std::string& path, const OpenOptions& options) {
  if (options.saturation_value && !(*options.saturation_value > 0))
    throw InputError(fmt::format("saturation_value is {}; it must be positive.", *options.saturation_value),
                     "Give the counts at which a pixel overflows in a single exposure.");
  if (options.exposure_s && !(*options.exposure_s > 0 && std::isfinite(*options.exposure_s)))
    throw InputError(fmt::format("exposure_s is {}; it must be positive.", *options.exposure_s),
                     "Give the seconds of one exposure.");
  const auto lock = hdf5_lock();
  const H5Handle file = open_by_content(path);
  const std::string where = find_frames(file.get(), path, options.dataset);
  const FrameData data(file.get(), path, where);
  impl_ = std::make_unique<Impl>(
      Impl{path, options, where, data.type().name, data.filters(), data.count(), data.rows(), data.columns(), {}});
  NexusFacts& facts = impl_->facts;
  facts = read_nexus(file.get(), where, data.count(), data.rows(), data.columns());
  if (options.saturation_value) facts.metadata.saturation_value = options.saturation_value;
  if (options.exposure_s) {
    facts.exposures_s = Eigen::VectorXd::Constant(impl_->count, *options.exposure_s);
    std::erase_if(facts.metadata.notes, [](const std::string& words) {
      return words.find("exposure") == 0 || words == "no exposure time in the file";
    });
  }
}

FrameFile::~FrameFile() = default;
FrameFile::FrameFile(FrameFile&&) noexcept = default;
FrameFile& FrameFile::operator=(FrameFile&&) noexcept = default;

const std::string& FrameFile::path() const { return impl_->path; }
const std::string& FrameFile::dataset() const { return impl_->dataset; }
const std::string& FrameFile::stored_type() const { return impl_->stored_type; }
const std::string& FrameFile::filters() const { return impl_->filters; }
Index FrameFile::count() const { return impl_->count; }
Index FrameFile::rows() const { return impl_->rows; }
Index FrameFile::columns() const { return impl_->columns; }
const OpenOptions& FrameFile::options() const { return impl_->options; }
const FrameMetadata& FrameFile::metadata() const { return impl_->facts.metadata; }
const Eigen::VectorXd& FrameFile::exposures_s() const { return impl_->facts.exposures_s; }
const Eigen::VectorXd& FrameFile::monitors() const { return impl_->facts.monitors; }

Frame FrameFile::read(Index index) const { return read_sum({index}); }

Frame FrameFile::read_sum(const std::vector<Index>& indices) const {
  std::vector<Index> wanted = indices;
  if (wanted.empty()) {
    wanted.resize(static_cast<std::size_t>(count()));
    std::iota(wanted.begin(), wanted.end(), Index{0});
  }
  std::sort(wanted.begin(), wanted.end());
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    if (wanted[i] < 0 || wanted[i] >= count())
      throw InputError(fmt::format("there is no frame {} in '{}', which holds {}.", wanted[i], path(), count()),
                       fmt::format("Frames are counted from 0 to {}.", count() - 1));
    if (i > 0 && wanted[i] == wanted[i - 1])
      throw InputError(fmt::format("frame {} of '{}' is listed twice.", wanted[i], path()),
                       "List each exposure once: the same counts do not make a longer exposure.");
  }
  return impl_->read(wanted);
}

}  // namespace sievelight
