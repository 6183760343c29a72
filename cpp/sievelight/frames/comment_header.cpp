// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/comment_header.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/curve/whole_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <sstream>
#include <utility>

namespace sievelight {
namespace {

std::string lower(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

// Words of a line; brackets, commas, colons and equal signs separate as blanks do.
std::vector<std::string> words_of(const std::string& line) {
  std::vector<std::string> words;
  std::string word;
  for (const char c : line + " ") {
    if (std::isspace(static_cast<unsigned char>(c)) || std::string("(),:=;").find(c) != std::string::npos) {
      if (!word.empty()) words.push_back(std::exchange(word, ""));
    } else if (std::isprint(static_cast<unsigned char>(c))) {
      word += c;
    }
  }
  return words;
}

class Header {
 public:
  Header(FrameMetadata& metadata, std::optional<double>& exposure_s) : m_(metadata), exposure_s_(exposure_s) {}

  int read(const std::string& text) {
    std::istringstream lines(text);
    std::string line;
    while (std::getline(lines, line)) {
      const auto first = line.find_first_not_of(" \t");
      if (first == std::string::npos || line[first] != '#') continue;
      words_ = words_of(line.substr(first + 1));
      if (words_.size() >= 2 && understand()) ++understood_;
    }
    if (!exposure_s_ && period_s_) {
      exposure_s_ = period_s_;
      note("exposure taken from Exposure_period, which includes the readout");
    }
    return understood_;
  }

 private:
  void note(const std::string& words) { m_.notes.push_back(words); }

  // The number in word `i` times the factor of the unit in word `i + 1`.
  std::optional<double> quantity(std::size_t i, Quantity kind) {
    const auto value = i < words_.size() ? parse_number(words_[i]) : std::nullopt;
    if (!value || !std::isfinite(*value)) return std::nullopt;
    const std::string unit = i + 1 < words_.size() ? words_[i + 1] : "";
    try {
      return *value * unit_factor(unit, kind);
    } catch (const InputError&) {
      note(fmt::format("{} {} in the header has {}; left out", words_[0], words_[i],
                       unit.empty() ? "no unit" : fmt::format("the unit '{}', which is not understood", unit)));
      return std::nullopt;
    }
  }

  bool positive(std::optional<double> value, std::optional<double>& into) {
    if (value && *value > 0)
      into = value;
    else if (value)
      note(fmt::format("{} is {:g} in the header; left out", words_[0], *value));
    return value.has_value();
  }

  bool understand() {
    const std::string name = lower(words_[0]);
    if (name == "exposure_time") return positive(quantity(1, Quantity::time_s), exposure_s_);
    if (name == "exposure_period") return positive(quantity(1, Quantity::time_s), period_s_);
    if (name == "wavelength") return positive(quantity(1, Quantity::length_nm), m_.wavelength_nm);
    if (name == "detector_distance") return positive(quantity(1, Quantity::length_mm), m_.distance_mm);
    if (name == "pixel_size") return pixel_size();
    if (name == "beam_xy") return beam_point();
    if (name == "count_cutoff") return positive(parse_number(words_[1]), m_.saturation_value);
    if (name == "tau") return dead_time();
    if (name == "flat_field") return flat_field();
    if (lower(words_[1]) == "sensor") return sensor();
    if (name == "detector_2theta") return tilt();
    return false;
  }

  bool pixel_size() {  // 172e-6 m x 172e-6 m
    const auto x = quantity(1, Quantity::length_mm), y = quantity(4, Quantity::length_mm);
    if (!x || !y || lower(words_[3]) != "x") return false;
    return positive(x, m_.pixel_size_x_mm) && positive(y, m_.pixel_size_y_mm);
  }

  bool beam_point() {
    const auto x = parse_number(words_[1]), y = words_.size() > 2 ? parse_number(words_[2]) : std::nullopt;
    const std::string unit = words_.size() > 3 ? lower(words_[3]) : "";
    if (!x || !y || !std::isfinite(*x) || !std::isfinite(*y)) return false;
    if (unit.rfind("pix", 0) != 0 && unit != "px") {
      note(fmt::format("Beam_xy is not in pixels but '{}'; left out", unit));
      return false;
    }
    if (*x == 0 && *y == 0) {
      note("Beam_xy is (0, 0), which stands for not known; left out");
      return true;
    }
    m_.beam_center_x_px = x;
    m_.beam_center_y_px = y;
    note(
        fmt::format("Beam_xy ({:g}, {:g}) taken as column and row with pixel centres at integers from 0; where the "
                    "detector counts from a pixel's corner it is half a pixel less",
                    *x, *y));
    return true;
  }

  // A dead time in this header is the one with which the detector corrected its counts, zero that it did not (common
  // practice): correcting again would count the losses twice.
  bool dead_time() {
    const auto tau = quantity(1, Quantity::time_s);
    if (!tau || *tau < 0) return false;
    if (*tau == 0) {
      note("Tau = 0 in the header: the counts were not corrected for dead time");
    } else {
      m_.dead_time_s = tau;
      m_.countrate_correction_applied = true;
      note(fmt::format("Tau = {:g} s in the header: the counts are taken as already corrected for this dead time",
                       *tau));
    }
    return true;
  }

  bool flat_field() {
    if (lower(words_[1]) == "nil") return true;
    m_.flatfield_applied = true;
    note("the header names a flat field: the counts are taken as already corrected for it");
    return true;
  }

  bool sensor() {  // Silicon sensor, thickness 0.00045 m
    if (words_.size() < 5 || lower(words_[2]) != "thickness") return false;
    const bool silicon = lower(words_[0]) == "silicon";
    m_.sensor_material = silicon ? "Si" : words_[0];
    return positive(quantity(3, Quantity::length_mm), m_.sensor_thickness_mm);
  }

  bool tilt() {
    const auto angle = quantity(1, Quantity::angle_deg);
    if (angle && *angle != 0)
      note(
          fmt::format("{} is {:g} deg in the header; the detector is taken as not turned, give its pitch, yaw and roll",
                      words_[0], *angle));
    return angle.has_value();
  }

  FrameMetadata& m_;
  std::optional<double>& exposure_s_;
  std::optional<double> period_s_;
  std::vector<std::string> words_;
  int understood_ = 0;
};

}  // namespace

int read_comment_header(const std::string& text, FrameMetadata& metadata, std::optional<double>& exposure_s) {
  return Header(metadata, exposure_s).read(text);
}

}  // namespace sievelight
