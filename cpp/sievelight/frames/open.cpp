// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/open.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/regular_file.hpp"
#include "sievelight/frames/cbf_frames.hpp"
#include "sievelight/frames/given_frames.hpp"
#include "sievelight/frames/hdf5_frames.hpp"
#include "sievelight/frames/npy_frames.hpp"
#include "sievelight/frames/text_frames.hpp"
#include "sievelight/frames/tiff_frames.hpp"
#include "sievelight/frames/tiff_pages.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <limits>
#include <numeric>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr const char* formats =
    "Frames are read from HDF5/NeXus, TIFF, CBF and NPY, strips from one or two columns of text; other formats by a "
    "reader of your own (in Python: register_frame_format).";

bool is_hdf5(std::ifstream& file) {
  // The signature stands at 0, or after a user block at 512, 1024, 2048, ... (HDF5 file format, section II.A).
  for (std::streamoff at = 0; at <= (1 << 20); at = at == 0 ? 512 : 2 * at) {
    std::string head(8, '\0');
    if (!file.seekg(at).read(head.data(), 8)) return false;
    if (head == "\x89HDF\r\n\x1a\n") return true;
  }
  return false;
}

// Text is what has no control characters but white space in its first bytes.
bool is_text(const std::string& head) {
  return std::none_of(head.begin(), head.end(),
                      [](unsigned char c) { return c < 32 && c != '\t' && c != '\n' && c != '\r' && c != '\f'; });
}

std::string read_head(std::ifstream& file, const std::string& path) {
  std::string head(4096, '\0');
  file.read(head.data(), static_cast<std::streamsize>(head.size()));
  head.resize(static_cast<std::size_t>(file.gcount()));
  file.clear();
  if (head.empty())
    throw DataError(fmt::format("'{}' is empty or cannot be read.", path), "Check the file and its rights.");
  return head;
}

std::unique_ptr<FrameSource> open_by_content(const std::string& path, const std::string& dataset) {
  require_regular_file(path);
  std::ifstream file(path, std::ios::binary);
  const std::string head = read_head(file, path);
  const auto begins = [&](const char* magic, std::size_t n) { return head.compare(0, n, magic, n) == 0; };
  if (is_hdf5(file)) return open_hdf5_frames(path, dataset);
  if (!dataset.empty())
    throw InputError(fmt::format("the option dataset is '{}', but '{}' is no HDF5 file.", dataset, path),
                     "Leave the option away: only HDF5 files have data sets.");
  if (is_tiff(head)) return open_tiff_frames(path);
  if (begins("\x93NUMPY", 6)) return open_npy_frames(path);
  if (begins("###CBF", 6) || begins("###CRYSTALLOGRAPHIC", 19) || head.find("_array_data.") != std::string::npos)
    return open_cbf_frames(path);
  if (head.find_first_not_of(" \t\r\n\xef\xbb\xbf") != std::string::npos &&
      head[head.find_first_not_of(" \t\r\n\xef\xbb\xbf")] == '<')
    throw DataError(fmt::format("'{}' is XML, not a file of frames.", path),
                    "Reduced curves in canSAS XML are read with read_curves(), or give the row the role curve.");
  if (is_text(head)) return open_text_frames(path);
  if (begins("\x1f\x8b", 2) || begins("PK\3\4", 4) || begins("BZh", 3) ||
      begins("\xfd"
             "7zXZ",
             5))
    throw DataError(fmt::format("'{}' is compressed as a whole.", path), "Unpack it first.");
  throw DataError(fmt::format("'{}' is not a file of a known kind: neither HDF5, TIFF, CBF, NPY nor text.", path),
                  formats);
}

void check_options(const OpenOptions& options) {
  if (options.saturation_value && !(*options.saturation_value > 0))
    throw InputError(fmt::format("saturation_value is {}; it must be positive.", *options.saturation_value),
                     "Give the counts at which a pixel overflows in a single exposure.");
  if (options.exposure_s && !(*options.exposure_s > 0 && std::isfinite(*options.exposure_s)))
    throw InputError(fmt::format("exposure_s is {}; it must be positive.", *options.exposure_s),
                     "Give the seconds of one exposure.");
}

}  // namespace

struct FrameFile::Impl {
  std::string path;
  OpenOptions options;
  std::unique_ptr<FrameSource> source;

  // What the caller says holds before what the file says.
  void override_facts() {
    FrameFacts& facts = source->facts;
    if (options.saturation_value) facts.metadata.saturation_value = options.saturation_value;
    if (options.exposure_s) {
      facts.exposures_s = Eigen::VectorXd::Constant(source->layout.count, *options.exposure_s);
      std::erase_if(facts.metadata.notes, [](const std::string& words) {
        return words.find("exposure") == 0 || words == "no exposure time in the file";
      });
    }
  }

  Frame read(const std::vector<Index>& indices) const {
    const FrameLayout& layout = source->layout;
    const FrameFacts& facts = source->facts;
    Frame frame;
    frame.masked = facts.masked.size() > 0 ? facts.masked : Mask::Constant(layout.rows, layout.columns, false);
    frame.metadata = facts.metadata;
    frame.exposures = static_cast<Index>(indices.size());
    const double saturation = facts.metadata.saturation_value.value_or(std::numeric_limits<double>::infinity());
    const CountTally tally = source->sum(indices, saturation, frame.counts, frame.masked);
    const std::string which = indices.size() == 1 ? fmt::format("Frame {}", indices.front())
                                                  : fmt::format("The sum of {} frames", indices.size());
    require_counts(which, tally);
    if (frame.masked.all())
      throw DataError(fmt::format("{} of '{}' has no usable pixel: all {} are masked, {}.", which, path,
                                  frame.masked.size(), fmt::join(words_for(tally, saturation), ", ")),
                      "Check the saturation value and the pixel mask, and that the right data set was named.");
    for (const std::string& words : describe(tally, saturation)) frame.metadata.notes.push_back(words);
    if (facts.exposures_s.size() > 0) frame.exposure_s = facts.exposures_s(indices).sum();
    if (facts.monitors.size() > 0) frame.monitor = facts.monitors(indices).sum();
    return frame;
  }

  void require_counts(const std::string& which, const CountTally& tally) const {
    if (tally.negative_fractional > 0)
      throw DataError(fmt::format("{} of '{}' holds {} negative numbers that are not whole.", which, path,
                                  tally.negative_fractional),
                      "Something was subtracted before, so these are no counts and their errors are lost: give the raw "
                      "frames, and the dark frame as a row of its own.");
  }

  static std::vector<std::string> words_for(const CountTally& tally, double saturation) {
    std::vector<std::string> words = describe(tally, saturation);
    if (words.empty()) words.push_back("by the file's pixel_mask");
    return words;
  }
};

FrameFile::FrameFile(const std::string& path, const OpenOptions& options) {
  check_options(options);
  impl_ = std::make_unique<Impl>(Impl{path, options, open_by_content(path, options.dataset)});
  impl_->override_facts();
}

FrameFile::FrameFile(const std::string& path, const GivenFrames& given, const OpenOptions& options) {
  check_options(options);
  impl_ = std::make_unique<Impl>(Impl{path, options, open_given_frames(path, given)});
  impl_->override_facts();
}

FrameFile::~FrameFile() = default;
FrameFile::FrameFile(FrameFile&&) noexcept = default;
FrameFile& FrameFile::operator=(FrameFile&&) noexcept = default;

const std::string& FrameFile::path() const { return impl_->path; }
const std::string& FrameFile::format() const { return impl_->source->layout.format; }
const std::string& FrameFile::dataset() const { return impl_->source->layout.dataset; }
const std::string& FrameFile::stored_type() const { return impl_->source->layout.stored_type; }
const std::string& FrameFile::filters() const { return impl_->source->layout.filters; }
Index FrameFile::count() const { return impl_->source->layout.count; }
Index FrameFile::rows() const { return impl_->source->layout.rows; }
Index FrameFile::columns() const { return impl_->source->layout.columns; }
const OpenOptions& FrameFile::options() const { return impl_->options; }
const FrameMetadata& FrameFile::metadata() const { return impl_->source->facts.metadata; }
void FrameFile::add_note(const std::string& words) { impl_->source->facts.metadata.notes.push_back(words); }
const Eigen::VectorXd& FrameFile::exposures_s() const { return impl_->source->facts.exposures_s; }
const Eigen::VectorXd& FrameFile::monitors() const { return impl_->source->facts.monitors; }

Frame FrameFile::read(Index index) const { return read_sum({index}); }

std::vector<Index> FrameFile::require_indices(const std::vector<Index>& indices) const {
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
  return wanted;
}

Frame FrameFile::read_sum(const std::vector<Index>& indices) const { return impl_->read(require_indices(indices)); }

std::unique_ptr<StoredStream> FrameFile::stream() const { return impl_->source->stream(); }

const Mask& FrameFile::masked() const { return impl_->source->facts.masked; }

void FrameFile::require_counts(const std::string& which, const CountTally& tally) const {
  impl_->require_counts(which, tally);
}

}  // namespace sievelight
