// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/text_io.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/curve/columns.hpp"
#include "sievelight/curve/csv.hpp"
#include "sievelight/curve/whole_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <sstream>

namespace sievelight {
namespace {

std::vector<std::string> split(const std::string& line) {
  std::vector<std::string> words;
  std::string word;
  for (const char c : line + " ") {
    if (c != ' ' && c != '\t' && c != ',' && c != ';' && c != '\r') {
      word += c;
    } else if (!word.empty()) {
      words.push_back(word);
      word.clear();
    }
  }
  return words;
}

bool is_comment(const std::vector<std::string>& words) {
  return words.empty() || words.front().find_first_of("#%!") == 0 || words.front().rfind("//", 0) == 0;
}

}  // namespace

NamedCurve read_text_curve(const std::string& path, const TextOptions& options) {
  std::vector<std::string> notes;
  if (options.q_unit) unit_factor(*options.q_unit, Quantity::inverse_length_per_nm);
  const IntensityScale scale = understand_intensity_unit(options.intensity_unit.value_or("1/cm"), notes);
  if (!notes.empty())
    throw InputError(fmt::format("'{}' is not a unit of intensity.", *options.intensity_unit),
                     "Use 'relative', '1/cm' or another inverse length, or 'cm2/g'.");
  const std::string content = read_whole_file(path);
  const std::string stem = std::filesystem::path(path).stem().string();
  if (auto found = parse_csv_curve(content, fmt::format("'{}'", path))) {
    found->name = stem;
    if ((options.q_unit && unit_factor(*options.q_unit, Quantity::inverse_length_per_nm) != 1.0) ||
        (options.intensity_unit && (scale.unit != found->curve.unit || scale.factor != 1.0)))
      throw InputError(fmt::format("'{}' says that q is in 1/nm and the intensity in {}, the call says {} and {}.",
                                   path, name(found->curve.unit), options.q_unit.value_or("nothing"),
                                   options.intensity_unit.value_or("nothing")),
                       "Leave the units to the file's header.");
    return *found;
  }
  if (!options.q_unit || !options.intensity_unit)
    throw InputError(fmt::format("'{}' does not say in which units its columns are.", path),
                     "Give q_unit and intensity_unit.");
  std::istringstream lines(content);
  std::vector<std::vector<double>> rows;
  std::string line;
  for (int number = 1; std::getline(lines, line); ++number) {
    const std::vector<std::string> words = split(line);
    if (is_comment(words)) continue;
    std::vector<double> row;
    for (const std::string& word : words)
      if (const auto value = parse_number(word)) row.push_back(*value);
    if (row.size() != words.size()) {
      if (rows.empty()) continue;  // a heading
      throw DataError(fmt::format("Line {} of '{}' is not numbers: '{}'.", number, path, line.substr(0, 60)),
                      "Remove the line or mark it as a comment with #; numbers have a decimal point.");
    }
    if (row.size() < 2 || row.size() > 4 || (!rows.empty() && row.size() != rows.front().size()))
      throw DataError(fmt::format("Line {} of '{}' has {} columns{}.", number, path, row.size(),
                                  rows.empty() ? "" : fmt::format(" after lines of {}", rows.front().size())),
                      "Give two to four columns: q, intensity, its standard uncertainty, q resolution.");
    rows.push_back(row);
  }
  if (rows.empty())
    throw DataError(fmt::format("'{}' holds no row of numbers.", path),
                    "Give two to four columns: q, intensity, its standard uncertainty, q resolution.");
  const auto column = [&](std::size_t index) {
    Eigen::VectorXd out(static_cast<Eigen::Index>(rows.size()));
    for (std::size_t i = 0; i < rows.size(); ++i) out[static_cast<Eigen::Index>(i)] = rows[i][index];
    return out;
  };
  Columns columns;
  columns.q = column(0);
  columns.intensity = column(1);
  if (rows.front().size() > 2) columns.intensity_u = column(2);
  if (rows.front().size() > 3) columns.q_resolution = column(3);
  columns.q_unit = *options.q_unit;
  columns.intensity_unit = *options.intensity_unit;
  NamedCurve out;
  out.name = stem;
  fill_curve(columns, fmt::format("'{}'", path), out);
  return out;
}

}  // namespace sievelight
