// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/cansas_xml.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/curve/columns.hpp"
#include "sievelight/curve/nxcansas_info.hpp"
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

GivenNumber given(const pugi::xml_node& node, const std::string& where) {
  return {local_name(node), number(node, where), node.attribute("unit").value()};
}

void read_instrument(const pugi::xml_node& instrument, InstrumentInfo& out, const std::string& where,
                     std::vector<std::string>& notes) {
  const pugi::xml_node source = child(instrument, "SASsource"), detector = child(instrument, "SASdetector");
  out.source_type = text(child(source, "radiation"));
  sort_source_words(out, notes);
  out.beam_shape = text(child(source, "beam_shape"));
  out.wavelength_nm = in_unit(given(child(source, "wavelength"), where), Quantity::length_nm, notes);
  out.wavelength_spread = wavelength_spread(given(child(source, "wavelength_spread"), where), out.wavelength_nm, notes);
  out.collimation_length_mm =
      in_unit(given(child(child(instrument, "SAScollimation"), "length"), where), Quantity::length_mm, notes);
  const auto detectors = children(instrument, "SASdetector");
  if (detectors.size() > 1)
    notes.push_back(fmt::format("the instrument has {} detectors; the first is described", detectors.size()));
  out.detector_name = text(child(detector, "name"));
  out.distance_mm = in_unit(given(child(detector, "SDD"), where), Quantity::length_mm, notes);
  const pugi::xml_node center = child(detector, "beam_center"), pixel = child(detector, "pixel_size");
  out.pixel_size_mm = {in_unit(given(child(pixel, "x"), where), Quantity::length_mm, notes),
                       in_unit(given(child(pixel, "y"), where), Quantity::length_mm, notes)};
  out.beam_center_px = {in_pixels(given(child(center, "x"), where), out.pixel_size_mm[0], notes),
                        in_pixels(given(child(center, "y"), where), out.pixel_size_mm[1], notes)};
  const pugi::xml_node turned = child(detector, "orientation");
  out.pitch_deg = in_unit(given(child(turned, "pitch"), where), Quantity::angle_deg, notes);
  out.yaw_deg = in_unit(given(child(turned, "yaw"), where), Quantity::angle_deg, notes);
  out.roll_deg = in_unit(given(child(turned, "roll"), where), Quantity::angle_deg, notes);
  out.slit_length_per_nm =
      in_unit(given(child(detector, "slit_length"), where), Quantity::inverse_length_per_nm, notes);
}

CurveInfo read_info(const pugi::xml_node& entry, const std::string& where) {
  CurveInfo info;
  info.title = text(child(entry, "Title"));
  info.run = text(child(entry, "Run"));
  const pugi::xml_node sample = child(entry, "SASsample");
  info.sample_name = text(child(sample, "ID"));
  info.thickness_mm = in_unit(given(child(sample, "thickness"), where), Quantity::length_mm, info.notes);
  info.transmission = number(child(sample, "transmission"), where);
  info.temperature_C = in_celsius(given(child(sample, "temperature"), where), info.notes);
  for (const pugi::xml_node& details : children(sample, "details")) info.sample_details.push_back(text(details));
  read_instrument(child(entry, "SASinstrument"), info.instrument, where, info.notes);
  for (const pugi::xml_node& process : children(entry, "SASprocess")) {
    const std::string name = text(child(process, "name"));
    ProcessStep step{name.empty() ? process.attribute("name").value() : name, text(child(process, "description")), {}};
    for (const pugi::xml_node& term : children(process, "term")) {
      const std::string unit = term.attribute("unit").value();
      step.terms.emplace_back(term.attribute("name").value(), text(term) + (unit.empty() ? "" : " " + unit));
    }
    for (const pugi::xml_node& note : children(process, "SASprocessnote"))
      if (const std::string words = text(note); !words.empty()) step.notes.push_back(words);
    info.steps.push_back(step);
  }
  for (const pugi::xml_node& note : children(entry, "SASnote"))
    if (const std::string words = text(note); !words.empty()) info.notes.push_back(words);
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
  VectorXd dev(n), resolution(n), length(n), width(n);
  std::set<std::string> q_units, i_units, dev_units, resolution_units, length_units, width_units;
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
    take(point, "dQl", length[i], length_units);
    take(point, "dQw", width[i], width_units);
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
  const auto keep = [&](const VectorXd& values, const std::set<std::string>& units, const char* field,
                        std::optional<VectorXd>& column, std::optional<std::string>& unit) {
    if (!values.array().isFinite().any()) return;
    column = values;
    unit = unit_of(units, field, where);
  };
  keep(resolution, resolution_units, "Qdev", columns.q_resolution, columns.q_resolution_unit);
  keep(length, length_units, "dQl", columns.slit_length, columns.slit_length_unit);
  keep(width, width_units, "dQw", columns.slit_width, columns.slit_width_unit);
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
