// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/tiff_frames.hpp"

#include "sievelight/frames/comment_header.hpp"
#include "sievelight/frames/tiff_pages.hpp"

#include <algorithm>

namespace sievelight {
namespace {

using Eigen::Index;

FrameLayout layout_of(const TiffPages& pages) {
  return {"TIFF", "", pages.type().name, pages.compression(), pages.count(), pages.rows(), pages.columns()};
}

class TiffFrames : public FrameSource {
 public:
  explicit TiffFrames(const std::string& path) : path_(path) {
    const TiffPages pages(path);
    layout = layout_of(pages);
    std::vector<std::string>& notes = facts.metadata.notes;
    notes = pages.notes();
    std::optional<double> exposure_s;
    if (read_comment_header(pages.description(), facts.metadata, exposure_s) == 0 && !pages.description().empty()) {
      std::string text = pages.description().substr(0, 200);
      std::replace(text.begin(), text.end(), '\n', ' ');
      notes.push_back("description in the file, not read: " + text);
    }
    if (exposure_s)
      facts.exposures_s = Eigen::VectorXd::Constant(layout.count, *exposure_s);
    else
      notes.push_back("no exposure time in the file");
  }

  CountTally sum(const std::vector<Index>& indices, double saturation, Image& counts, Mask& masked) const override {
    TiffPages pages(path_);
    if (layout_of(pages) != layout) throw_changed(path_);
    counts.setZero(layout.rows, layout.columns);
    CountTally tally;
    for (const Index index : indices)
      tally += add_frame(pages.type(), pages.read(index).data(), saturation, counts, masked);
    return tally;
  }

 private:
  std::string path_;
};

}  // namespace

std::unique_ptr<FrameSource> open_tiff_frames(const std::string& path) { return std::make_unique<TiffFrames>(path); }

}  // namespace sievelight
