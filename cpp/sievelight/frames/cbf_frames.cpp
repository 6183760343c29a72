// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/cbf_frames.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/curve/whole_file.hpp"
#include "sievelight/frames/cbf_file.hpp"
#include "sievelight/frames/comment_header.hpp"

#include <fmt/format.h>

#include <cmath>
#include <cstring>

namespace sievelight {
namespace {

using Eigen::Index;

FrameLayout layout_of(const CbfFile& file) {
  return {"CBF", "", file.type().name, file.compression(), file.count(), file.rows(), file.columns()};
}

// The items of the imgCIF dictionary that matter here. Lengths there are mm, wavelengths Angstrom, times s.
class Items {
 public:
  Items(const CbfFile& file, FrameFacts& facts) : file_(file), facts_(facts), m_(facts.metadata) {}

  void read() {
    for (const std::string& text : file_.values("array_data", "header_contents")) {
      std::optional<double> exposure_s;
      read_comment_header(text, m_, exposure_s);
      if (exposure_s) facts_.exposures_s = Eigen::VectorXd::Constant(file_.count(), *exposure_s);
    }
    set(m_.wavelength_nm, number("diffrn_radiation_wavelength", "wavelength"), 0.1);
    set(m_.distance_mm, number("diffrn_measurement", "sample_detector_distance"), 1.0);
    set(m_.saturation_value, number("array_intensities", "overload"), 1.0);
    refuse_coded_numbers();
    pixel_size();
    beam_point();
    times();
    if (facts_.exposures_s.size() == 0) note("no exposure time in the file");
  }

  std::optional<double> undefined_value() const { return number("array_intensities", "undefined_value"); }

 private:
  void note(const std::string& words) { m_.notes.push_back(words); }

  std::optional<double> number(const std::string& category, const std::string& column, std::size_t row = 0) const {
    const auto all = file_.values(category, column);
    if (row >= all.size()) return std::nullopt;
    // A standard uncertainty in brackets may follow: 1.5418(2).
    const auto value = parse_number(all[row].substr(0, all[row].find('(')));
    return value && std::isfinite(*value) ? value : std::nullopt;
  }

  void set(std::optional<double>& into, std::optional<double> value, double factor) {
    if (value && *value > 0) into = *value * factor;
  }

  void refuse_coded_numbers() {
    const auto coding = file_.values("array_intensities", "linearity");
    if (!coding.empty() && !coding[0].empty() && coding[0] != "linear" && coding[0] != "raw")
      throw DataError(fmt::format("The image's numbers are coded ({}), not counts.", printable(coding[0])),
                      "Convert the file to plain counts (_array_intensities.linearity linear).");
  }

  // Which way an axis of the array runs: precedence 1 is the fastest, the column.
  void pixel_size() {
    const auto precedence = file_.values("array_structure_list", "precedence");
    const auto axis_set = file_.values("array_structure_list", "axis_set_id");
    const auto index = file_.values("array_structure_list", "index");
    const auto direction = file_.values("array_structure_list", "direction");
    const auto axis = file_.values("array_structure_list_axis", "axis_set_id");
    const auto element = file_.values("array_element_size", "index");
    for (std::size_t i = 0; i < precedence.size(); ++i) {
      if (precedence[i] != "1" && precedence[i] != "2") continue;
      std::optional<double>& size = precedence[i] == "1" ? m_.pixel_size_x_mm : m_.pixel_size_y_mm;
      for (std::size_t k = 0; k < element.size(); ++k)
        if (i < index.size() && element[k] == index[i]) set(size, number("array_element_size", "size", k), 1e3);  // m
      for (std::size_t k = 0; k < axis.size(); ++k)
        if (i < axis_set.size() && axis[k] == axis_set[i])
          if (const auto step = number("array_structure_list_axis", "displacement_increment", k))
            set(size, std::abs(*step), 1.0);
      if (i < direction.size() && direction[i] == "decreasing")
        note(fmt::format("the {} axis is said to run backwards; rows and columns are taken as stored",
                         precedence[i] == "1" ? "fast" : "slow"));
    }
  }

  void beam_point() {
    const auto x = number("diffrn_detector_element", "reference_center_fast");
    const auto y = number("diffrn_detector_element", "reference_center_slow");
    const auto unit = file_.values("diffrn_detector_element", "reference_center_units");
    if (!x || !y) return;
    const std::string in = unit.empty() ? "" : unit[0];
    if (in == "pixels" || in == "bins") {
      m_.beam_center_x_px = x;
      m_.beam_center_y_px = y;
    } else if (in == "mm" && m_.pixel_size_x_mm && m_.pixel_size_y_mm) {
      m_.beam_center_x_px = *x / *m_.pixel_size_x_mm;
      m_.beam_center_y_px = *y / *m_.pixel_size_y_mm;
    } else {
      note(fmt::format("the reference centre ({:g}, {:g}) '{}' cannot be turned into pixels; left out", *x, *y,
                       printable(in)));
      return;
    }
    note("beam point taken from the reference centre, fast = column, slow = row, pixel centres at integers from 0");
  }

  void times() {
    for (const auto& [category, column] : {std::pair{"diffrn_scan_frame", "integration_time"},
                                           {"diffrn_scan_frame", "time_per_step"},
                                           {"diffrn_scan_frame", "exposure_time"},
                                           {"diffrn_scan", "integration_time"},
                                           {"diffrn_scan", "time_per_step"}}) {
      const auto n = static_cast<Index>(file_.values(category, column).size());
      if (n == 0) continue;
      if (n != 1 && n != file_.count()) {
        note(fmt::format("{}.{} has {} values for {} exposures; left out", category, column, n, file_.count()));
        continue;
      }
      Eigen::VectorXd seconds(file_.count());
      for (Index i = 0; i < seconds.size(); ++i)
        seconds[i] = number(category, column, n == 1 ? 0 : static_cast<std::size_t>(i)).value_or(0.0);
      if (!(seconds.array() > 0).all()) continue;
      facts_.exposures_s = seconds;
      return;
    }
  }

  const CbfFile& file_;
  FrameFacts& facts_;
  FrameMetadata& m_;
};

class CbfFrames : public FrameSource {
 public:
  explicit CbfFrames(const std::string& path) : path_(path) {
    const CbfFile file(path);
    layout = layout_of(file);
    Items items(file, facts);
    items.read();
    undefined_ = items.undefined_value();
  }

  CountTally sum(const std::vector<Index>& indices, double saturation, Image& counts, Mask& masked) const override {
    counts.setZero(layout.rows, layout.columns);
    CountTally tally;
    for (const Index index : indices) {
      std::vector<unsigned char> numbers;
      StoredType type;
      {
        const CbfFile file(path_);
        if (layout_of(file) != layout) throw_changed(path_);
        numbers = file.read(index);
        type = file.type();
      }
      if (undefined_) mark_undefined(type, numbers);
      tally += add_frame(type, numbers.data(), saturation, counts, masked);
    }
    return tally;
  }

 private:
  // What the file calls undefined becomes the marker that count_rules.hpp masks: the type's largest number.
  void mark_undefined(const StoredType& type, std::vector<unsigned char>& numbers) const {
    with_number(type.kind, [&](auto zero) {
      using T = decltype(zero);
      const T marker = std::numeric_limits<T>::max();
      for (std::size_t at = 0; at < numbers.size(); at += sizeof(T)) {
        T value;
        std::memcpy(&value, numbers.data() + at, sizeof(T));
        if (static_cast<double>(value) == *undefined_) std::memcpy(numbers.data() + at, &marker, sizeof(T));
      }
    });
  }

  std::string path_;
  std::optional<double> undefined_;
};

}  // namespace

std::unique_ptr<FrameSource> open_cbf_frames(const std::string& path) { return std::make_unique<CbfFrames>(path); }

}  // namespace sievelight
