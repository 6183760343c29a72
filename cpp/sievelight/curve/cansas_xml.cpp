// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/cansas_xml.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/curve/columns.hpp"
#include "sievelight/curve/whole_file.hpp"

#include <fmt/format.h>
#include <pugixml.hpp>

#include <algorithm>
#include <cmath>
#include <set>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

// Names may carry a namespace prefix, whatever its letters.
std::string local_name(const pugi::xml_node& node) {
  const std::string name = node.name();
  const auto colon = name.find(':');
  return colon == std::string::npos ? name : name.substr(colon + 1);
}

pugi::xml_node child(const pugi::xml_node& node, const std::string& name) {
  return node.find_child([&](const pugi::xml_node& n) { return local_name(n) == name; });
}

std::vector<pugi::xml_node> children(const pugi::xml_node& node, const std::string& name) {
  std::vector<pugi::xml_node> out;
  for (const pugi::xml_node& n : node.children())
    if (local_name(n) == name) out.push_back(n);
  return out;
}

// All text of an element (comments may split it), without blanks at its ends and with single blanks inside.
std::string text(const pugi::xml_node& node) {
  std::string raw, out;
  for (const pugi::xml_node& n : node.children())
    if (n.type() == pugi::node_pcdata || n.type() == pugi::node_cdata) raw += n.value();
  for (const char c : raw) {
    const bool blank = c == ' ' || c == '\t' || c == '\n' || c == '\r';
    if (!blank)
      out += c;
    else if (!out.empty() && out.back() != ' ')
      out += ' ';
  }
  if (!out.empty() && out.back() == ' ') out.pop_back();
  return out;
}

double number(const pugi::xml_node& node, const std::string& where) {
  if (!node) return std::nan("");
  const std::string words = text(node);
  if (words.empty()) return std::nan("");
  if (const auto value = parse_number(words)) return *value;
  throw DataError(fmt::format("'{}' in {} of {} is not a number.", words, local_name(node), where),
                  "Correct the file; numbers have a decimal point.");
}

double quantity(const pugi::xml_node& node, Quantity kind, const std::string& where, std::vector<std::string>& notes) {
  const double value = number(node, where);
  if (std::isnan(value)) return value;
  const std::string unit = node.attribute("unit").value();
  try {
    return value * unit_factor(unit, kind);
  } catch (const InputError&) {
    notes.push_back(fmt::format("{} has the unit '{}', which is not understood; left out", local_name(node), unit));
    return std::nan("");
  }
}

CurveInfo read_info(const pugi::xml_node& entry, const std::string& where) {
  CurveInfo info;
  info.title = text(child(entry, "Title"));
  info.run = text(child(entry, "Run"));
  const pugi::xml_node sample = child(entry, "SASsample"), instrument = child(entry, "SASinstrument");
  info.sample_name = text(child(sample, "ID"));
  info.thickness_mm = quantity(child(sample, "thickness"), Quantity::length_mm, where, info.notes);
  info.transmission = number(child(sample, "transmission"), where);
  info.wavelength_nm =
      quantity(child(child(instrument, "SASsource"), "wavelength"), Quantity::length_nm, where, info.notes);
  info.distance_mm = quantity(child(child(instrument, "SASdetector"), "SDD"), Quantity::length_mm, where, info.notes);
  for (const pugi::xml_node& process : children(entry, "SASprocess")) {
    const std::string name = text(child(process, "name"));
    ProcessStep step{name.empty() ? process.attribute("name").value() : name, text(child(process, "description")), {}};
    for (const pugi::xml_node& term : children(process, "term")) {
      const std::string unit = term.attribute("unit").value();
      step.terms.emplace_back(term.attribute("name").value(), text(term) + (unit.empty() ? "" : " " + unit));
    }
    info.steps.push_back(step);
  }
  return info;
}

// The one unit of a column; several in one column are refused.
std::string unit_of(const std::set<std::string>& units, const std::string& name, const std::string& where) {
  if (units.size() > 1)
    throw DataError(fmt::format("{} of {} has several units ({}).", name, where, fmt::join(units, ", ")),
                    "Give every point of a curve in one unit.");
  return units.empty() ? "" : *units.begin();
}

NamedCurve read_data(const pugi::xml_node& data, const std::string& name, const CurveInfo& info,
                     const std::string& path) {
  const std::string where = fmt::format("'{}' in '{}'", name, path);
  const std::vector<pugi::xml_node> points = children(data, "Idata");
  const auto n = static_cast<Index>(points.size());
  Columns columns;
  columns.q.resize(n);
  columns.intensity.resize(n);
  VectorXd dev(n), resolution(n);
  std::set<std::string> q_units, i_units, dev_units, resolution_units;
  const auto take = [&](const pugi::xml_node& point, const char* field, double& value, std::set<std::string>& units) {
    const pugi::xml_node node = child(point, field);
    value = number(node, where);
    if (!std::isnan(value)) units.insert(node.attribute("unit").value());
  };
  for (Index i = 0; i < n; ++i) {
    const pugi::xml_node& point = points[static_cast<std::size_t>(i)];
    take(point, "Q", columns.q[i], q_units);
    take(point, "I", columns.intensity[i], i_units);
    take(point, "Idev", dev[i], dev_units);
    take(point, "Qdev", resolution[i], resolution_units);
  }
  NamedCurve out;
  out.name = name;
  out.info = info;
  columns.q_unit = unit_of(q_units, "Q", where);
  columns.intensity_unit = unit_of(i_units, "I", where);
  const std::string dev_unit = unit_of(dev_units, "Idev", where);
  if (!dev_units.empty() && dev_unit != columns.intensity_unit)
    throw DataError(fmt::format("Idev of {} is in '{}' and I in '{}'.", where, dev_unit, columns.intensity_unit),
                    "Give both in one unit.");
  columns.intensity_u = dev;
  if (resolution.array().isFinite().any()) {
    columns.q_resolution = resolution;
    columns.q_resolution_unit = unit_of(resolution_units, "Qdev", where);
  }
  if (n > 0 && (child(points.front(), "dQl") || child(points.front(), "dQw")))
    out.info.notes.push_back("the file gives slit smearing (dQw, dQl), which is not read");
  fill_curve(columns, where, out);
  return out;
}

}  // namespace

std::vector<NamedCurve> read_cansas_xml(const std::string& path) {
  std::string content = read_whole_file(path);
  pugi::xml_document document;
  const pugi::xml_parse_result parsed = document.load_buffer_inplace(content.data(), content.size());
  if (!parsed) {
    const std::string whole = read_whole_file(path);
    const auto line = 1 + std::count(whole.begin(),
                                     whole.begin() + std::min<std::ptrdiff_t>(
                                                         parsed.offset, static_cast<std::ptrdiff_t>(whole.size())),
                                     '\n');
    throw DataError(fmt::format("'{}' is not well-formed XML: {} in line {}.", path, parsed.description(), line),
                    "Check that the file was copied completely.");
  }
  const pugi::xml_node root = child(document, "SASroot");
  if (!root)
    throw DataError(fmt::format("'{}' is XML but not canSAS XML: its outermost element is '{}', not 'SASroot'.", path,
                                document.document_element().name()),
                    "Give a canSAS XML (1.0 or 1.1) or NXcanSAS file.");
  std::vector<NamedCurve> curves;
  for (const pugi::xml_node& entry : children(root, "SASentry")) {
    const std::vector<pugi::xml_node> data = children(entry, "SASdata");
    const std::string title = text(child(entry, "Title"));
    const std::string entry_name = entry.attribute("name") ? entry.attribute("name").value() : title;
    const CurveInfo info = read_info(entry, fmt::format("'{}' in '{}'", entry_name, path));
    for (std::size_t i = 0; i < data.size(); ++i) {
      std::string name = data[i].attribute("name").value();
      if (name.empty()) name = data.size() == 1 ? "" : std::to_string(i + 1);
      curves.push_back(read_data(data[i], name.empty() ? entry_name : entry_name + "/" + name, info, path));
    }
  }
  if (curves.empty())
    throw DataError(fmt::format("'{}' holds no curve: no SASentry has a SASdata element.", path),
                    "Check that the file was written completely.");
  return curves;
}

}  // namespace sievelight
