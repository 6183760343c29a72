// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/nxcansas_io.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/hdf5_bytes.hpp"
#include "sievelight/base/write_whole.hpp"
#include "sievelight/curve/nxcansas_info.hpp"

#include <fmt/format.h>

#include <cctype>
#include <cmath>
#include <set>

namespace sievelight {
namespace {

using Eigen::VectorXd;

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

void write_data(hid_t entry, const std::string& group_name, const Curve& curve) {
  const H5Handle group = make_sas_group(entry, group_name, "NXdata", "SASdata");
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
  std::vector<std::string> resolutions;
  if (curve.has_slit()) {
    h5_write(data, "dQw", curve.slit_width_per_nm, "1/nm");
    h5_write(data, "dQl", curve.slit_length_per_nm, "1/nm");
    resolutions = {"dQw", "dQl"};
  }
  if (curve.q_resolution_per_nm.size() > 0) {
    h5_write(data, "Qdev", curve.q_resolution_per_nm, "1/nm");
    resolutions.push_back("Qdev");
  }
  if (resolutions.size() == 1) mark(data, "Q", "resolutions", resolutions.front());
  if (resolutions.size() > 1) h5_write_attribute(h5_dataset(data, "Q").get(), "resolutions", resolutions);
  // Standard deviations, whatever the shape of a slit; the definition's word for a blur without further detail.
  if (!resolutions.empty() && !curve.has_slit()) mark(data, "Q", "resolutions_description", "Gaussian");
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

// Letters that a NeXus name may not hold become "_". Source: NeXus manual, "NeXus data file naming conventions".
std::string nexus_name(const std::string& name) {
  std::string out;
  for (const char c : name) out += std::isalnum(static_cast<unsigned char>(c)) || c == '_' || c == '.' ? c : '_';
  if (out.empty()) return "entry";
  if (out.front() == '.') out.front() = '_';
  if (out.back() == '.') out.back() = '_';
  return out;
}

}  // namespace

void write_nxcansas(const std::string& path, const Curve& curve, const CurveInfo& info) {
  write_nxcansas(path, {NamedCurve{"entry/data", curve, info}});
}

void write_nxcansas(const std::string& path, const std::vector<NamedCurve>& curves) {
  if (curves.empty()) throw InputError("there is no curve to write.", "Give one curve or more.");
  struct Place {
    std::string entry, data;
  };
  std::vector<Place> places;
  std::set<std::string> finished;
  for (const NamedCurve& named : curves) {
    check(named.curve);
    check(named.info.instrument);
    const auto slash = named.name.find('/');
    const Place place{nexus_name(named.name.substr(0, slash)),
                      slash == std::string::npos ? "data" : nexus_name(named.name.substr(slash + 1))};
    for (const Place& other : places)
      if (other.entry == place.entry && other.data == place.data)
        throw InputError(fmt::format("two curves would be written to '{}/{}'.", place.entry, place.data),
                         "Give each curve a name of its own, 'entry/data', of letters, digits and _.");
    if (!places.empty() && places.back().entry != place.entry) finished.insert(places.back().entry);
    if (finished.contains(place.entry))
      throw InputError(fmt::format("the curves of the entry '{}' do not stand next to each other.", place.entry),
                       "Sort the curves by entry.");
    places.push_back(place);
  }
  const auto lock = hdf5_lock();
  const H5Handle file = h5_in_memory();
  const H5Handle root(H5Gopen2(file.get(), "/", H5P_DEFAULT), H5Gclose);
  h5_write_attribute(root.get(), "NX_class", std::string("NXroot"));
  h5_write_attribute(root.get(), "default", places.front().entry);
  H5Handle entry;
  for (std::size_t i = 0; i < curves.size(); ++i) {
    if (i == 0 || places[i].entry != places[i - 1].entry) {
      entry = make_sas_group(file.get(), places[i].entry, "NXentry", "SASentry");
      h5_write_attribute(entry.get(), "version", std::string("1.1"));
      h5_write_attribute(entry.get(), "default", places[i].data);
      h5_write_text(entry.get(), "definition", "NXcanSAS");
      write_info(entry.get(), curves[i].info);
    }
    write_data(entry.get(), places[i].data, curves[i].curve);
  }
  write_whole(path, h5_bytes(file));
}

}  // namespace sievelight
