// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/nxcansas_io.hpp"

#include "sievelight/base/hdf5.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {
namespace {

using Eigen::VectorXd;

H5Handle make_group(hid_t where, const std::string& name, const char* nx_class, const char* cansas_class) {
  H5Handle group = h5_make_group(where, name, nx_class);
  h5_write_attribute(group.get(), "canSAS_class", std::string(cansas_class));
  return group;
}

void mark(hid_t where, const std::string& name, const std::string& attribute, const std::string& value) {
  const H5Handle set = h5_dataset(where, name);
  h5_write_attribute(set.get(), attribute, value);
}

// NXcanSAS's word for a relative intensity is "arbitrary".
std::string unit_of(const Curve& curve) {
  return curve.unit == IntensityUnit::relative ? "arbitrary" : name(curve.unit);
}

// The relative uncertainty of one factor for the whole curve; NaN when the cause is not one: 1e-9 is the rounding of a
// long chain of operations, far below any uncertainty.
double relative_scale_u(const Curve& curve, const VectorXd& u) {
  const double along = curve.intensity.dot(u) / curve.intensity.squaredNorm();
  return (u - along * curve.intensity).norm() <= 1e-9 * u.norm() ? std::abs(along) : std::nan("");
}

void write_data(hid_t entry, const Curve& curve) {
  const H5Handle group = make_group(entry, "data", "NXdata", "SASdata");
  const hid_t data = group.get();
  h5_write_attribute(data, "signal", std::string("I"));
  h5_write_attribute(data, "axes", std::vector<std::string>{"Q"});
  h5_write_attribute(data, "I_axes", std::string("Q"));
  h5_write_attribute(data, "Q_indices", 0);
  const std::string unit = unit_of(curve);

  h5_write(data, "Q", curve.q_per_nm, "1/nm");
  h5_write(data, "I", curve.intensity, unit);
  const VectorXd dev = pointwise_u(curve);
  // All zero means that nobody knows it: then no Idev stands in the file, rather than one that says "exact".
  if (dev.size() > 0 && dev.maxCoeff() > 0) {
    h5_write(data, "Idev", dev, unit);
    mark(data, "I", "uncertainties", "Idev");
    h5_write(data, "Idev_private", curve.private_u, unit);
  }
  if (curve.q_resolution_per_nm.size() > 0) {
    h5_write(data, "Qdev", curve.q_resolution_per_nm, "1/nm");
    mark(data, "Q", "resolutions", "Qdev");
  }
  if (curve.q_low_per_nm.size() > 0) {
    h5_write(data, "Q_low", curve.q_low_per_nm, "1/nm");
    h5_write(data, "Q_high", curve.q_high_per_nm, "1/nm");
  }
  int number = 0;
  for (const auto& [id, cause] : curve.causes) {
    const std::string field = fmt::format("cause_{}", ++number);
    h5_write(data, field, cause.u, unit);
    mark(data, field, "id", id);
    mark(data, field, "kind", name(cause.kind));
    if (id != absolute_scale_id || cause.kind != CauseKind::coherent) continue;
    const double scale_u = relative_scale_u(curve, cause.u);
    if (!std::isfinite(scale_u)) continue;
    h5_write(data, "scaling_factor", 1.0);
    h5_write(data, "scaling_factor_uncertainty", scale_u);
    mark(data, "I", "scaling_factor", "scaling_factor");
    mark(data, "scaling_factor", "uncertainties", "scaling_factor_uncertainty");
  }
}

void write_instrument(hid_t entry, const CurveInfo& info) {
  const H5Handle instrument = make_group(entry, "instrument", "NXinstrument", "SASinstrument");
  const H5Handle detector = make_group(instrument.get(), "detector", "NXdetector", "SASdetector");
  h5_write_text(detector.get(), "name", "detector");
  if (std::isfinite(info.distance_mm)) h5_write(detector.get(), "SDD", info.distance_mm, "mm");
  const H5Handle source = make_group(instrument.get(), "source", "NXsource", "SASsource");
  h5_write_text(source.get(), "radiation", "x-ray");
  if (std::isfinite(info.wavelength_nm)) h5_write(source.get(), "incident_wavelength", info.wavelength_nm, "nm");
}

void write_steps(hid_t entry, const std::vector<ProcessStep>& steps) {
  int number = 0;
  for (const ProcessStep& step : steps) {
    const H5Handle group = make_group(entry, fmt::format("process_{:02}", ++number), "NXprocess", "SASprocess");
    h5_write_text(group.get(), "name", step.name);
    h5_write_text(group.get(), "description", step.description);
    int term_number = 0;
    for (const auto& [term, value] : step.terms) {
      const std::string field = fmt::format("term_{:02}", ++term_number);
      h5_write_text(group.get(), field, value);
      mark(group.get(), field, "name", term);
    }
  }
}

}  // namespace

void write_nxcansas(const std::string& path, const Curve& curve, const CurveInfo& info) {
  check(curve);
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(path);
  const H5Handle root(H5Gopen2(file.get(), "/", H5P_DEFAULT), H5Gclose);
  h5_write_attribute(root.get(), "NX_class", std::string("NXroot"));
  h5_write_attribute(root.get(), "default", std::string("entry"));
  const H5Handle entry = make_group(file.get(), "entry", "NXentry", "SASentry");
  h5_write_attribute(entry.get(), "version", std::string("1.1"));
  h5_write_attribute(entry.get(), "default", std::string("data"));
  h5_write_text(entry.get(), "definition", "NXcanSAS");
  h5_write_text(entry.get(), "title", info.title);
  h5_write_text(entry.get(), "run", info.run.empty() ? info.title : info.run);
  write_data(entry.get(), curve);
  const H5Handle sample = make_group(entry.get(), "sample", "NXsample", "SASsample");
  h5_write_text(sample.get(), "name", info.sample_name);
  if (std::isfinite(info.thickness_mm)) h5_write(sample.get(), "thickness", info.thickness_mm, "mm");
  if (std::isfinite(info.transmission)) h5_write(sample.get(), "transmission", info.transmission);
  write_instrument(entry.get(), info);
  write_steps(entry.get(), info.steps);
  int number = 0;
  for (const std::string& words : info.notes) {
    const H5Handle note = make_group(entry.get(), fmt::format("note_{:02}", ++number), "NXnote", "SASnote");
    h5_write_text(note.get(), "type", "text/plain");
    h5_write_text(note.get(), "data", words);
  }
}

}  // namespace sievelight
