// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/hdf5_frames.hpp"

#include "sievelight/base/hdf5.hpp"
#include "sievelight/frames/find_frames.hpp"
#include "sievelight/frames/frame_data.hpp"
#include "sievelight/frames/frame_stream.hpp"
#include "sievelight/frames/nexus.hpp"

namespace sievelight {
namespace {

// The file is opened anew for each reading: a notebook may hold many of these, and HDF5 would go on showing the old
// content of a file that was written again under its open handle.
class Hdf5Frames : public FrameSource {
 public:
  Hdf5Frames(const std::string& path, const std::string& asked) : path_(path) {
    const auto lock = hdf5_lock();
    const H5Handle file = h5_open(path);
    const std::string where = find_frames(file.get(), path, asked);
    const FrameData data(file.get(), path, where);
    layout = {"HDF5", where, data.type().name, data.filters(), data.count(), data.rows(), data.columns()};
    facts = read_nexus(file.get(), where, data.count(), data.rows(), data.columns());
  }

  CountTally sum(const std::vector<Eigen::Index>& indices, double saturation, Image& counts,
                 Mask& masked) const override {
    const H5Handle file = h5_open(path_);
    const FrameData data(file.get(), path_, layout.dataset);
    require_unchanged(data);
    return data.sum(indices, saturation, counts, masked);
  }

  std::unique_ptr<StoredStream> stream() const override {
    require_unchanged(FrameData(h5_open(path_).get(), path_, layout.dataset));
    return stream_hdf5(path_, layout.dataset);
  }

 private:
  void require_unchanged(const FrameData& data) const {
    // More exposures than before are no change of these: a series may be written while it is read.
    if (data.count() < layout.count || data.rows() != layout.rows || data.columns() != layout.columns ||
        data.type().name != layout.stored_type)
      throw_changed(path_);
  }

  std::string path_;
};

}  // namespace

std::unique_ptr<FrameSource> open_hdf5_frames(const std::string& path, const std::string& dataset) {
  return std::make_unique<Hdf5Frames>(path, dataset);
}

}  // namespace sievelight
