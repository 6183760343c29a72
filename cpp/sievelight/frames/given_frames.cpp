// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/given_frames.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/frames/frame_source.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;

StoredType type_called(const std::string& name, const std::string& path) {
  for (int kind = 0; kind <= static_cast<int>(NumberKind::f64); ++kind)
    if (StoredType type = plain_type(static_cast<NumberKind>(kind), false); type.name == name) return type;
  throw DataError(fmt::format("the frames of '{}' are of type {}.", path, name),
                  "Counts are whole numbers of 8 to 64 bits, or float32 or float64: convert them in the reader.");
}

void require_each_positive(const Eigen::VectorXd& values, Index count, const char* what, const std::string& path) {
  if (values.size() == 0) return;
  if (values.size() != count)
    throw DataError(fmt::format("'{}' comes with {} {} for {} exposures.", path, values.size(), what, count),
                    "Give one number for all exposures, or one for each.");
  for (Index i = 0; i < count; ++i)
    if (!(values[i] > 0) || !std::isfinite(values[i]))
      throw DataError(fmt::format("'{}': number {} of the {} is {:g}.", path, i, what, values[i]),
                      "Give numbers above zero, or none where the file does not say.");
}

class GivenSource : public FrameSource {
 public:
  GivenSource(const std::string& path, const GivenFrames& given)
      : type_(type_called(given.stored_type, path)), fetch_(given.fetch) {
    const auto size = [](Index n) { return n > 0 ? static_cast<std::uint64_t>(n) : 0; };
    require_sensible_size(path, size(given.count), size(given.rows), size(given.columns));
    require_each_positive(given.exposures_s, given.count, "exposure times", path);
    require_each_positive(given.monitors, given.count, "monitors", path);
    if (given.masked.size() > 0 && (given.masked.rows() != given.rows || given.masked.cols() != given.columns))
      throw DataError(fmt::format("the mask that comes with '{}' is {} x {}, the frames are {} x {}.", path,
                                  given.masked.rows(), given.masked.cols(), given.rows, given.columns),
                      "Give a mask of (rows, columns), True where a pixel must not be used.");
    layout = {given.format, "", type_.name, "not known", given.count, given.rows, given.columns};
    facts = {given.metadata, given.exposures_s, given.monitors, given.masked};
    if (given.exposures_s.size() == 0) facts.metadata.notes.push_back("no exposure time in the file");
  }

  CountTally sum(const std::vector<Index>& indices, double saturation, Image& counts, Mask& masked) const override {
    counts.setZero(layout.rows, layout.columns);
    CountTally tally;
    for (const Index index : indices) {
      const std::shared_ptr<const void> numbers = fetch_(index);
      tally += add_frame(type_, static_cast<const unsigned char*>(numbers.get()), saturation, counts, masked);
    }
    return tally;
  }

 private:
  StoredType type_;
  std::function<std::shared_ptr<const void>(Index)> fetch_;
};

}  // namespace

std::unique_ptr<FrameSource> open_given_frames(const std::string& path, const GivenFrames& given) {
  return std::make_unique<GivenSource>(path, given);
}

}  // namespace sievelight
