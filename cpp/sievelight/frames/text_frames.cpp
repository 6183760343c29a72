// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/text_frames.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/curve/whole_file.hpp"
#include "sievelight/frames/comment_header.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <sstream>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr const char* wanted = "A strip is one column of counts, or two: position or channel, and counts.";

std::vector<std::string> split(const std::string& line) {
  std::vector<std::string> words;
  std::string word;
  for (const char c : line + " ") {
    if (std::string(" \t,;\r").find(c) == std::string::npos) {
      word += c;
    } else if (!word.empty()) {
      words.push_back(word);
      word.clear();
    }
  }
  return words;
}

bool is_comment(const std::vector<std::string>& words) {
  return words.empty() || std::string("#%!").find(words.front()[0]) != std::string::npos ||
         words.front().rfind("//", 0) == 0;
}

struct Strip {
  std::vector<double> positions, counts;
  std::string text;
};

Strip read_strip(const std::string& path) {
  Strip strip{{}, {}, read_whole_file(path)};
  std::istringstream lines(strip.text);
  std::string line;
  std::size_t columns = 0;
  for (int number = 1; std::getline(lines, line); ++number) {
    const std::vector<std::string> words = split(line);
    if (is_comment(words)) continue;
    std::vector<double> row;
    for (const std::string& word : words)
      if (const auto value = parse_number(word)) row.push_back(*value);
    if (row.size() != words.size()) {
      if (strip.counts.empty()) continue;  // a heading
      throw DataError(fmt::format("Line {} of '{}' is not numbers: '{}'.", number, path, printable(line, 60)),
                      "Remove the line or mark it as a comment with #; numbers have a decimal point.");
    }
    if (row.size() > 2 || (columns > 0 && row.size() != columns))
      throw DataError(fmt::format("Line {} of '{}' has {} columns{}.", number, path, row.size(),
                                  columns > 0 ? fmt::format(" after lines of {}", columns) : ""),
                      fmt::format("{} A reduced curve of three or four columns is read with read_text_curve.", wanted));
    columns = row.size();
    if (columns == 2) {
      if (!std::isfinite(row[0]) || (!strip.positions.empty() && !(row[0] > strip.positions.back())))
        throw DataError(fmt::format("Line {} of '{}': the first column, {:g}, does not rise.", number, path, row[0]),
                        fmt::format("{} Frames of two dimensions are read from HDF5, TIFF, CBF and NPY.", wanted));
      strip.positions.push_back(row[0]);
    }
    strip.counts.push_back(row.back());
  }
  if (strip.counts.empty()) throw DataError(fmt::format("'{}' holds no line of numbers.", path), wanted);
  return strip;
}

class TextFrames : public FrameSource {
 public:
  explicit TextFrames(const std::string& path) : path_(path) {
    const Strip strip = read_strip(path);
    layout = {"text", "", "float64", "none", 1, 1, static_cast<Index>(strip.counts.size())};
    std::optional<double> exposure_s;
    read_comment_header(strip.text, facts.metadata, exposure_s);
    std::vector<std::string>& notes = facts.metadata.notes;
    notes.push_back(fmt::format("read as a strip of {} channels", layout.columns));
    if (!strip.positions.empty()) note_positions(strip.positions);
    if (exposure_s)
      facts.exposures_s = Eigen::VectorXd::Constant(1, *exposure_s);
    else
      notes.push_back("no exposure time in the file");
  }

  CountTally sum(const std::vector<Index>&, double saturation, Image& counts, Mask& masked) const override {
    const Strip strip = read_strip(path_);
    if (static_cast<Index>(strip.counts.size()) != layout.columns) throw_changed(path_);
    counts.setZero(layout.rows, layout.columns);
    return add_frame(plain_type(NumberKind::f64, false), reinterpret_cast<const unsigned char*>(strip.counts.data()),
                     saturation, counts, masked);
  }

 private:
  void note_positions(const std::vector<double>& x) {
    std::string words = fmt::format(
        "the first column runs from {:g} to {:g}; the channels are counted from 0 in its order, "
        "its values are not used",
        x.front(), x.back());
    const double step = (x.back() - x.front()) / std::max(static_cast<double>(x.size()) - 1, 1.0);
    for (std::size_t i = 1; i < x.size(); ++i)
      if (std::abs(x[i] - x[i - 1] - step) > 0.01 * step) {
        words += "; its steps are not equal, so these may be no pixels of one size";
        break;
      }
    facts.metadata.notes.push_back(words);
  }

  std::string path_;
};

}  // namespace

std::unique_ptr<FrameSource> open_text_frames(const std::string& path) { return std::make_unique<TextFrames>(path); }

}  // namespace sievelight
