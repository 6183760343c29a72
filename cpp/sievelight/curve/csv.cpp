// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/csv.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/write_whole.hpp"
#include "sievelight/curve/columns.hpp"
#include "sievelight/curve/whole_file.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

const std::vector<std::pair<IntensityUnit, std::string>> endings{
    {IntensityUnit::per_cm, "per_cm"}, {IntensityUnit::cm2_per_g, "cm2_per_g"}, {IntensityUnit::relative, "relative"}};

std::string ending(IntensityUnit unit) {
  for (const auto& [known, word] : endings)
    if (known == unit) return word;
  return "";
}

// RFC 4180, 2.6 and 2.7: a field with a comma, a quote or a line break stands in quotes, and quotes are doubled.
std::string quoted(const std::string& field) {
  if (field.find_first_of(",\"\r\n") == std::string::npos) return field;
  std::string out;
  for (const char c : field) out.append(c == '"' ? 2 : 1, c);
  return fmt::format("\"{}\"", out);
}

struct Row {
  std::vector<std::string> fields;
  int line = 1;  // where it begins
};

std::vector<Row> parse_rows(const std::string& content, std::size_t most) {
  std::vector<Row> rows;
  Row row;
  std::string field;
  bool inside = false;
  int line = 1;
  const auto end_row = [&] {
    row.fields.push_back(field);
    field.clear();
    if (row.fields.size() > 1 || !row.fields.front().empty()) rows.push_back(row);
    row = {{}, line};
  };
  for (std::size_t i = 0; i < content.size() && rows.size() < most; ++i) {
    const char c = content[i];
    if (c == '\n') ++line;
    if (inside) {
      if (c == '"' && i + 1 < content.size() && content[i + 1] == '"')
        field += content[++i];
      else if (c == '"')
        inside = false;
      else
        field += c;
    } else if (c == '"' && field.empty()) {
      inside = true;
    } else if (c == ',') {
      row.fields.push_back(field);
      field.clear();
    } else if (c == '\n') {
      end_row();
    } else if (c != '\r') {
      field += c;
    }
  }
  if (rows.size() < most && (!field.empty() || !row.fields.empty())) end_row();
  return rows;
}

struct Column {
  std::string name;
  VectorXd values;
};

}  // namespace

void write_csv(const std::string& path, const Curve& curve, bool causes) {
  check(curve);
  const std::string unit = ending(curve.unit);
  std::vector<Column> columns{{"q_per_nm", curve.q_per_nm}, {"intensity_" + unit, curve.intensity}};
  const VectorXd total = total_u(curve);
  // All zero means that nobody knows it: no column, rather than one that says "exact".
  if (curve.size() > 0 && total.maxCoeff() > 0) {
    columns.push_back({"u_total_" + unit, total});
    columns.push_back({"u_pointwise_" + unit, pointwise_u(curve)});
    if (causes) columns.push_back({"u_private_" + unit, curve.private_u});
  }
  for (const auto& [label, values] : {std::pair{"q_low_per_nm", &curve.q_low_per_nm},
                                      {"q_high_per_nm", &curve.q_high_per_nm},
                                      {"q_resolution_per_nm", &curve.q_resolution_per_nm},
                                      {"slit_length_per_nm", &curve.slit_length_per_nm},
                                      {"slit_width_per_nm", &curve.slit_width_per_nm}})
    if (values->size() > 0) columns.push_back({label, *values});
  if (causes)
    for (const auto& [id, cause] : curve.causes)
      columns.push_back(
          {fmt::format("u_{}_{}: {}", cause.kind == CauseKind::coherent ? "coherent" : "shared_pointwise", unit, id),
           cause.u});
  std::string text;
  for (std::size_t k = 0; k < columns.size(); ++k)
    text += fmt::format("{}{}", k == 0 ? "" : ",", quoted(columns[k].name));
  text += "\r\n";
  for (Index i = 0; i < curve.size(); ++i) {
    for (std::size_t k = 0; k < columns.size(); ++k)
      text += fmt::format("{}{}", k == 0 ? "" : ",", columns[k].values[i]);
    text += "\r\n";
  }
  write_whole(path, text);
}

std::optional<NamedCurve> parse_csv_curve(const std::string& content, const std::string& where) {
  const auto head = parse_rows(content, 1);
  if (head.empty()) return std::nullopt;
  const std::vector<std::string>& names = head.front().fields;
  const auto place = [&](const std::string& label) {
    for (std::size_t k = 0; k < names.size(); ++k)
      if (names[k] == label) return static_cast<int>(k);
    return -1;
  };
  std::string unit;
  IntensityUnit known = IntensityUnit::relative;
  for (const auto& [candidate, word] : endings)
    if (place("intensity_" + word) >= 0) {
      unit = word;
      known = candidate;
    }
  if (place("q_per_nm") < 0 || unit.empty()) return std::nullopt;

  const std::vector<Row> rows = parse_rows(content, content.size());
  const auto n = static_cast<Index>(rows.size()) - 1;
  std::vector<VectorXd> values(names.size(), VectorXd(n));
  for (Index i = 0; i < n; ++i) {
    const Row& row = rows[static_cast<std::size_t>(i) + 1];
    if (row.fields.size() != names.size())
      throw DataError(fmt::format("Line {} of {} has {} fields where the header has {}.", row.line, where,
                                  row.fields.size(), names.size()),
                      "Check that the file was written completely.");
    for (std::size_t k = 0; k < names.size(); ++k) {
      const auto number = parse_number(row.fields[k]);
      values[k][i] = number.value_or(std::nan(""));
      if (!number && !row.fields[k].empty())
        throw DataError(fmt::format("Line {} of {}: '{}' in the column {} is not a number.", row.line, where,
                                    row.fields[k], names[k]),
                        "Numbers have a decimal point.");
    }
  }
  std::vector<bool> used(names.size(), false);
  const auto column = [&](const std::string& label) -> std::optional<VectorXd> {
    const int k = place(label);
    if (k < 0) return std::nullopt;
    used[static_cast<std::size_t>(k)] = true;
    return values[static_cast<std::size_t>(k)];
  };
  Columns columns;
  columns.q = *column("q_per_nm");
  columns.q_unit = "1/nm";
  columns.intensity = *column("intensity_" + unit);
  columns.intensity_unit = name(known);
  const auto total = column("u_total_" + unit);
  columns.intensity_u = column("u_pointwise_" + unit);
  columns.q_resolution = column("q_resolution_per_nm");
  columns.slit_length = column("slit_length_per_nm");
  columns.slit_width = column("slit_width_per_nm");
  NamedCurve out;
  fill_curve(columns, where, out);
  const bool whole = out.curve.size() == n && out.curve.q_per_nm == columns.q;  // nothing left out, sorted or merged
  const auto low = column("q_low_per_nm"), high = column("q_high_per_nm"), own = column("u_private_" + unit);
  if (whole && low && high) {
    out.curve.q_low_per_nm = *low;
    out.curve.q_high_per_nm = *high;
  }
  if (whole && own) out.curve.private_u = *own;
  bool shared = false;
  for (std::size_t k = 0; k < names.size(); ++k)
    for (const auto& [start, kind] : {std::pair{fmt::format("u_coherent_{}: ", unit), CauseKind::coherent},
                                      {fmt::format("u_shared_pointwise_{}: ", unit), CauseKind::pointwise}}) {
      if (names[k].rfind(start, 0) != 0) continue;
      used[k] = true;
      shared = true;
      if (whole) out.curve.causes[names[k].substr(start.size())] = {kind, values[k]};
    }
  std::string ignored;
  for (std::size_t k = 0; k < names.size(); ++k)
    if (!used[k]) ignored += fmt::format("{}'{}'", ignored.empty() ? "" : ", ", names[k]);
  if (!ignored.empty()) out.info.notes.push_back(fmt::format("the columns {} are not understood; left out", ignored));
  if (total && !shared && columns.intensity_u && ((*total).array() > (*columns.intensity_u).array() * (1 + 1e-9)).any())
    out.info.notes.push_back(
        "the file's total uncertainty has common parts (scale, thickness, ...) that it does not list; what scatters "
        "from point to point is kept");
  if (!whole && shared) out.info.notes.push_back("the shared causes are left out, because points were");
  try {
    check(out.curve);
  } catch (const InputError& error) {
    throw DataError(fmt::format("The curve in {} is broken: {}", where, error.problem()), error.mend());
  }
  return out;
}

}  // namespace sievelight
