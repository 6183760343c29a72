// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/nxcansas_info.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace sievelight {
namespace {

// Source: NeXus base class NXsource, fields probe and type (NXDL of 2024).
const std::vector<std::string> probes{"neutron",     "x-ray",         "muon",     "electron",
                                      "ultraviolet", "visible light", "positron", "proton"};
const std::vector<std::string> source_types{"Spallation Neutron Source",
                                            "Pulsed Reactor Neutron Source",
                                            "Reactor Neutron Source",
                                            "Synchrotron X-ray Source",
                                            "Pulsed Muon Source",
                                            "Rotating Anode X-ray",
                                            "Fixed Tube X-ray",
                                            "UV Laser",
                                            "Free-Electron Laser",
                                            "Optical Laser",
                                            "Ion Source",
                                            "UV Plasma Source",
                                            "Metal Jet X-ray"};
// A Gaussian's full width at half maximum over its standard deviation.
const double fwhm_per_sd = std::sqrt(8 * std::numbers::ln2);

bool among(const std::string& word, const std::vector<std::string>& words) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

std::string text(hid_t where, const std::string& field) { return h5_text(where, field).value_or(""); }

std::string units_of(hid_t where, const std::string& field) {
  const H5Handle set = h5_dataset(where, field);
  return set ? h5_attribute(set.get(), "units").value_or("") : "";
}

double plain_number(hid_t where, const std::string& field) {
  const auto values = h5_numbers(where, field);
  return values && values->size() > 0 ? (*values)[0] : not_known;
}

GivenNumber given(hid_t where, const std::string& field) {
  return {field, plain_number(where, field), units_of(where, field)};
}

double number(hid_t where, const std::string& field, Quantity quantity, std::vector<std::string>& notes) {
  return in_unit(given(where, field), quantity, notes);
}

void read_detector(hid_t detector, InstrumentInfo& out, std::vector<std::string>& notes) {
  out.detector_name = text(detector, "name");
  out.distance_mm = number(detector, "SDD", Quantity::length_mm, notes);
  out.pixel_size_mm = {number(detector, "x_pixel_size", Quantity::length_mm, notes),
                       number(detector, "y_pixel_size", Quantity::length_mm, notes)};
  out.beam_center_px = {in_pixels(given(detector, "beam_center_x"), out.pixel_size_mm[0], notes),
                        in_pixels(given(detector, "beam_center_y"), out.pixel_size_mm[1], notes)};
  out.pitch_deg = number(detector, "pitch", Quantity::angle_deg, notes);
  out.yaw_deg = number(detector, "yaw", Quantity::angle_deg, notes);
  out.roll_deg = number(detector, "roll", Quantity::angle_deg, notes);
  out.slit_length_per_nm = number(detector, "slit_length", Quantity::inverse_length_per_nm, notes);
}

void read_source(hid_t source, InstrumentInfo& out, std::vector<std::string>& notes) {
  out.probe = text(source, "probe");
  out.source_type = text(source, "type");
  // Deprecated in 1.1, and the one field of 1.0.
  if (out.probe.empty() && out.source_type.empty()) out.source_type = text(source, "radiation");
  sort_source_words(out, notes);
  out.beam_shape = text(source, "beam_shape");
  out.wavelength_nm = number(source, "incident_wavelength", Quantity::length_nm, notes);
  out.wavelength_spread = wavelength_spread(given(source, "incident_wavelength_spread"), out.wavelength_nm, notes);
}

ProcessStep read_step(hid_t group) {
  ProcessStep step{text(group, "name"), text(group, "description"), {}};
  for (const std::string& field : h5_children(group)) {
    if (field.rfind("term", 0) != 0) continue;
    const H5Handle set = h5_dataset(group, field);
    if (set) step.terms.emplace_back(h5_attribute(set.get(), "name").value_or(field), text(group, field));
  }
  for (const std::string& name : sas_groups(group, "SASprocessnote")) {
    const H5Handle note = h5_group(group, name);
    for (const std::string& field : h5_children(note.get()))
      if (const auto words = h5_text(note.get(), field)) step.notes.push_back(*words);
  }
  return step;
}

void write_if_known(hid_t where, const char* field, double value, const char* unit = "") {
  if (std::isfinite(value)) h5_write(where, field, value, unit);
}

void write_if_known(hid_t where, const std::string& field, const std::string& words) {
  if (!words.empty()) h5_write_text(where, field, words);
}

void write_sample(hid_t entry, const CurveInfo& info) {
  const H5Handle sample = make_sas_group(entry, "sample", "NXsample", "SASsample");
  h5_write_text(sample.get(), "name", info.sample_name);
  write_if_known(sample.get(), "thickness", info.thickness_mm, "mm");
  write_if_known(sample.get(), "transmission", info.transmission);
  write_if_known(sample.get(), "temperature", info.temperature_C, "C");
  int number = 0;
  for (const std::string& words : info.sample_details)
    h5_write_text(sample.get(), fmt::format("details_{:02}", ++number), words);
}

void write_instrument(hid_t entry, const InstrumentInfo& info) {
  const H5Handle instrument = make_sas_group(entry, "instrument", "NXinstrument", "SASinstrument");
  if (std::isfinite(info.collimation_length_mm)) {
    const H5Handle collimation = make_sas_group(instrument.get(), "collimation", "NXcollimator", "SAScollimation");
    h5_write(collimation.get(), "length", info.collimation_length_mm, "mm");
  }
  const H5Handle detector = make_sas_group(instrument.get(), "detector", "NXdetector", "SASdetector");
  const hid_t d = detector.get();
  h5_write_text(d, "name", info.detector_name.empty() ? "detector" : info.detector_name);
  write_if_known(d, "SDD", info.distance_mm, "mm");
  write_if_known(d, "beam_center_x", info.beam_center_px[0], "pixel");
  write_if_known(d, "beam_center_y", info.beam_center_px[1], "pixel");
  write_if_known(d, "x_pixel_size", info.pixel_size_mm[0], "mm");
  write_if_known(d, "y_pixel_size", info.pixel_size_mm[1], "mm");
  write_if_known(d, "pitch", info.pitch_deg, "degree");
  write_if_known(d, "yaw", info.yaw_deg, "degree");
  write_if_known(d, "roll", info.roll_deg, "degree");
  write_if_known(d, "slit_length", info.slit_length_per_nm, "1/nm");
  if (info.probe.empty() && info.source_type.empty() && info.beam_shape.empty() && !std::isfinite(info.wavelength_nm))
    return;
  const H5Handle source = make_sas_group(instrument.get(), "source", "NXsource", "SASsource");
  write_if_known(source.get(), "probe", info.probe);
  write_if_known(source.get(), "type", info.source_type);
  // Deprecated by 1.1 in favour of the two above, and the only one that readers of 1.0 know.
  write_if_known(source.get(), "radiation", info.probe.empty() ? info.source_type : info.probe);
  write_if_known(source.get(), "beam_shape", info.beam_shape);
  write_if_known(source.get(), "incident_wavelength", info.wavelength_nm, "nm");
  write_if_known(source.get(), "incident_wavelength_spread", fwhm_per_sd * info.wavelength_spread * info.wavelength_nm,
                 "nm");
}

void write_steps(hid_t entry, const std::vector<ProcessStep>& steps) {
  int number = 0;
  for (const ProcessStep& step : steps) {
    const H5Handle group = make_sas_group(entry, fmt::format("process_{:02}", ++number), "NXprocess", "SASprocess");
    h5_write_text(group.get(), "name", step.name);
    h5_write_text(group.get(), "description", step.description);
    int term_number = 0;
    for (const auto& [term, value] : step.terms) {
      const std::string field = fmt::format("term_{:02}", ++term_number);
      h5_write_text(group.get(), field, value);
      const H5Handle set = h5_dataset(group.get(), field);
      h5_write_attribute(set.get(), "name", term);
    }
    if (step.notes.empty()) continue;
    const H5Handle note = make_sas_group(group.get(), "note", "NXcollection", "SASprocessnote");
    int note_number = 0;
    for (const std::string& words : step.notes)
      h5_write_text(note.get(), fmt::format("note_{:02}", ++note_number), words);
  }
}

}  // namespace

double in_unit(const GivenNumber& given, Quantity quantity, std::vector<std::string>& notes) {
  if (std::isnan(given.value)) return given.value;
  try {
    return given.value * unit_factor(given.unit, quantity);
  } catch (const InputError&) {
    notes.push_back(fmt::format("{} has the unit '{}', which is not understood; left out", given.field, given.unit));
    return not_known;
  }
}

double in_celsius(const GivenNumber& given, std::vector<std::string>& notes) {
  if (std::isnan(given.value) || among(given.unit, {"C", "degC", "celsius", "Celsius", "°C"})) return given.value;
  if (among(given.unit, {"K", "kelvin", "Kelvin"})) return given.value - 273.15;
  notes.push_back(fmt::format("{} has the unit '{}', which is not understood; left out", given.field, given.unit));
  return not_known;
}

double in_pixels(const GivenNumber& given, double pixel_size_mm, std::vector<std::string>& notes) {
  if (std::isnan(given.value) || among(given.unit, {"pixel", "pixels", "px"})) return given.value;
  if (pixel_size_mm > 0) return in_unit(given, Quantity::length_mm, notes) / pixel_size_mm;
  notes.push_back(fmt::format("{} is in '{}' and the pixel size is not known; left out", given.field, given.unit));
  return not_known;
}

double wavelength_spread(const GivenNumber& given, double wavelength_nm, std::vector<std::string>& notes) {
  if (among(given.unit, {"percent", "%"})) return given.value / 100 / fwhm_per_sd;
  return in_unit(given, Quantity::length_nm, notes) / (fwhm_per_sd * wavelength_nm);
}

void sort_source_words(InstrumentInfo& out, std::vector<std::string>& notes) {
  if (out.probe.empty() && among(out.source_type, probes)) std::swap(out.probe, out.source_type);
  for (const auto& [word, words] : {std::pair{&out.probe, &probes}, {&out.source_type, &source_types}}) {
    if (word->empty() || among(*word, *words)) continue;
    notes.push_back(fmt::format("the source is '{}', a word that NeXus does not list; left out", *word));
    word->clear();
  }
}

H5Handle make_sas_group(hid_t where, const std::string& name, const char* nx_class, const char* cansas_class) {
  H5Handle group = h5_make_group(where, name, nx_class);
  h5_write_attribute(group.get(), "canSAS_class", std::string(cansas_class));
  return group;
}

std::vector<std::string> sas_groups(hid_t where, const std::string& cansas_class) {
  std::vector<std::string> out;
  for (const std::string& name : h5_children(where)) {
    const H5Handle group = h5_group(where, name);
    if (group && h5_attribute(group.get(), "canSAS_class") == cansas_class) out.push_back(name);
  }
  return out;
}

CurveInfo read_info(hid_t entry) {
  CurveInfo info;
  info.title = text(entry, "title");
  info.run = text(entry, "run");
  for (const std::string& name : sas_groups(entry, "SASsample")) {
    const H5Handle sample = h5_group(entry, name);
    info.sample_name = h5_text(sample.get(), "name").value_or(text(sample.get(), "ID"));
    info.thickness_mm = number(sample.get(), "thickness", Quantity::length_mm, info.notes);
    info.transmission = plain_number(sample.get(), "transmission");
    info.temperature_C = in_celsius(given(sample.get(), "temperature"), info.notes);
    for (const std::string& field : h5_children(sample.get()))
      if (field.rfind("details", 0) == 0)
        if (const auto words = h5_text(sample.get(), field)) info.sample_details.push_back(*words);
  }
  for (const std::string& name : sas_groups(entry, "SASinstrument")) {
    const H5Handle instrument = h5_group(entry, name);
    const auto detectors = sas_groups(instrument.get(), "SASdetector");
    if (detectors.size() > 1)
      info.notes.push_back(fmt::format("the instrument has {} detectors; the first, '{}', is described",
                                       detectors.size(), detectors.front()));
    if (!detectors.empty())
      read_detector(h5_group(instrument.get(), detectors.front()).get(), info.instrument, info.notes);
    for (const std::string& child : sas_groups(instrument.get(), "SASsource"))
      read_source(h5_group(instrument.get(), child).get(), info.instrument, info.notes);
    for (const std::string& child : sas_groups(instrument.get(), "SAScollimation"))
      info.instrument.collimation_length_mm =
          number(h5_group(instrument.get(), child).get(), "length", Quantity::length_mm, info.notes);
  }
  for (const std::string& name : sas_groups(entry, "SASprocess"))
    info.steps.push_back(read_step(h5_group(entry, name).get()));
  for (const std::string& name : sas_groups(entry, "SASnote")) {
    const H5Handle note = h5_group(entry, name);
    if (const auto words = h5_text(note.get(), "data")) info.notes.push_back(*words);
  }
  return info;
}

void check(const InstrumentInfo& instrument) {
  for (const auto& [word, words, what] :
       {std::tuple{&instrument.probe, &probes, "probe"}, {&instrument.source_type, &source_types, "source type"}})
    if (!word->empty() && !among(*word, *words))
      throw InputError(fmt::format("'{}' is not a {} that NeXus lists.", *word, what),
                       fmt::format("Use one of: {}.", fmt::join(*words, ", ")));
}

void write_info(hid_t entry, const CurveInfo& info) {
  h5_write_text(entry, "title", info.title);
  h5_write_text(entry, "run", info.run.empty() ? info.title : info.run);
  write_sample(entry, info);
  write_instrument(entry, info.instrument);
  write_steps(entry, info.steps);
  int number = 0;
  for (const std::string& words : info.notes) {
    const H5Handle note = make_sas_group(entry, fmt::format("note_{:02}", ++number), "NXcollection", "SASnote");
    h5_write_text(note.get(), "type", "text/plain");
    h5_write_text(note.get(), "data", words);
  }
}

}  // namespace sievelight
