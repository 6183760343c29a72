// SPDX-License-Identifier: GPL-3.0-or-later
// The reading half of nxcansas_io.hpp; writing is in nxcansas_io.cpp.
#include "sievelight/base/error.hpp"
#include "sievelight/base/hdf5.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/curve/columns.hpp"
#include "sievelight/curve/nxcansas_info.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::VectorXd;

std::optional<std::string> units_of(hid_t where, const std::string& field) {
  const H5Handle set = h5_dataset(where, field);
  return set ? h5_attribute(set.get(), "units") : std::nullopt;
}

// Our own fields beside the standard ones. They are used only when all points of the file were kept in order.
void read_own_fields(hid_t data, double factor, NamedCurve& out) {
  Curve& curve = out.curve;
  const auto vector = [&](const std::string& field) -> std::optional<VectorXd> {
    auto values = h5_numbers(data, field);
    if (!values || values->size() != curve.size()) return std::nullopt;
    return values;
  };
  if (const auto own = vector("Idev_private")) curve.private_u = *own * factor;
  const auto low = vector("Q_low"), high = vector("Q_high");
  if (low && high && units_of(data, "Q_low") == "1/nm" && units_of(data, "Q_high") == "1/nm") {
    curve.q_low_per_nm = *low;
    curve.q_high_per_nm = *high;
  }
  for (const std::string& field : h5_children(data)) {
    if (field.rfind("cause_", 0) != 0) continue;
    const H5Handle set = h5_dataset(data, field);
    const auto values = vector(field);
    const auto id = h5_attribute(set.get(), "id"), kind = h5_attribute(set.get(), "kind");
    if (!values || !id || !kind) continue;
    curve.causes[*id] = {*kind == name(CauseKind::pointwise) ? CauseKind::pointwise : CauseKind::coherent,
                         *values * factor};
  }
}

// NXcanSAS: the attribute names a field by which I is to be multiplied, whose own attribute names its uncertainty.
void apply_scaling_factor(hid_t data, const std::string& signal, NamedCurve& out) {
  const H5Handle set = h5_dataset(data, signal);
  const auto field = h5_attribute(set.get(), "scaling_factor");
  if (!field) return;
  const auto value = h5_numbers(data, *field);
  if (!value || value->size() != 1 || !((*value)[0] > 0) || !std::isfinite((*value)[0])) {
    out.info.notes.push_back(fmt::format("the scaling factor '{}' is no positive number; left out", *field));
    return;
  }
  const double factor = (*value)[0];
  Curve& curve = out.curve;
  if (factor != 1.0) {
    curve.intensity *= factor;
    curve.private_u *= factor;
    for (auto& [id, cause] : curve.causes) cause.u *= factor;
    out.info.notes.push_back(fmt::format("the intensity was multiplied by the file's scaling factor {:g}", factor));
  }
  const H5Handle factor_set = h5_dataset(data, *field);
  const auto u_field = h5_attribute(factor_set.get(), "uncertainties");
  const auto u = u_field ? h5_numbers(data, *u_field) : std::nullopt;
  if (u && u->size() == 1 && (*u)[0] > 0 && !curve.causes.contains(absolute_scale_id))
    curve.causes[absolute_scale_id] = {CauseKind::coherent, curve.intensity * ((*u)[0] / factor)};
}

std::optional<NamedCurve> read_data(hid_t data, const std::string& name, const CurveInfo& info, const std::string& path,
                                    std::vector<std::string>& skipped) {
  const std::string signal = h5_attribute(data, "signal").value_or("I");
  const std::string where = fmt::format("'{}' in '{}'", name, path);
  const H5Handle i_set = h5_dataset(data, signal), q_set = h5_dataset(data, "Q");
  if (!i_set || !q_set) {
    skipped.push_back(where + " has no I or no Q");
    return std::nullopt;
  }
  if (h5_shape(i_set.get()).size() != 1 || h5_shape(q_set.get()).size() != 1) {
    skipped.push_back(where + " is not one-dimensional");
    return std::nullopt;
  }
  NamedCurve out;
  out.name = name;
  out.info = info;
  Columns columns;
  const auto q = h5_numbers(data, "Q"), intensity = h5_numbers(data, signal);
  if (!q || !intensity) {
    skipped.push_back(where + " does not hold numbers");
    return std::nullopt;
  }
  columns.q = *q;
  columns.intensity = *intensity;
  columns.q_unit = units_of(data, "Q").value_or("");
  columns.intensity_unit = units_of(data, signal).value_or("");
  const std::string dev = h5_attribute(i_set.get(), "uncertainties").value_or("Idev");
  columns.intensity_u = h5_numbers(data, dev);
  std::string resolution = "Qdev";  // the attribute may name another
  for (const std::string& field : h5_attribute_list(q_set.get(), "resolutions"))
    if (field != "dQw" && field != "dQl" && h5_exists(data, field)) resolution = field;
  columns.q_resolution = h5_numbers(data, resolution);
  columns.q_resolution_unit = units_of(data, resolution);
  columns.slit_length = h5_numbers(data, "dQl");
  columns.slit_length_unit = units_of(data, "dQl");
  columns.slit_width = h5_numbers(data, "dQw");
  columns.slit_width_unit = units_of(data, "dQw");
  const auto described = h5_attribute(q_set.get(), "resolutions_description");
  if (described && *described != "Gaussian" && !described->empty())
    out.info.notes.push_back(
        fmt::format("the q resolution is described as '{}'; its standard deviation is kept", *described));
  fill_curve(columns, where, out);
  std::vector<std::string> ignored;
  const IntensityScale scale = understand_intensity_unit(columns.intensity_unit, ignored);
  if (out.curve.size() == q->size() && out.curve.q_per_nm.size() > 0 && std::is_sorted(q->begin(), q->end()))
    read_own_fields(data, scale.factor, out);
  apply_scaling_factor(data, signal, out);
  try {
    check(out.curve);
  } catch (const InputError& error) {
    throw DataError(fmt::format("The curve {} is broken: {}", where, error.problem()),
                    "Check that the file was copied completely, or write it again.");
  }
  return out;
}

}  // namespace

std::vector<NamedCurve> read_nxcansas(const std::string& path) {
  const auto lock = hdf5_lock();
  const H5Handle file = h5_open(path);
  const H5Handle root(H5Gopen2(file.get(), "/", H5P_DEFAULT), H5Gclose);
  std::vector<NamedCurve> curves;
  std::vector<std::string> skipped;
  for (const std::string& entry_name : h5_children(root.get())) {
    const H5Handle entry = h5_group(root.get(), entry_name);
    if (!entry ||
        (h5_attribute(entry.get(), "canSAS_class") != "SASentry" && h5_attribute(entry.get(), "NX_class") != "NXentry"))
      continue;
    std::optional<CurveInfo> info;
    for (const std::string& data_name : h5_children(entry.get())) {
      const H5Handle data = h5_group(entry.get(), data_name);
      if (!data || h5_attribute(data.get(), "canSAS_class") != "SASdata") continue;
      if (!info) info = read_info(entry.get());
      if (auto curve = read_data(data.get(), entry_name + "/" + data_name, *info, path, skipped))
        curves.push_back(std::move(*curve));
    }
  }
  if (curves.empty())
    throw DataError(fmt::format("'{}' holds no curve: {}.", path,
                                skipped.empty() ? "no SASentry has a SASdata group (NXcanSAS)"
                                                : fmt::format("{}", fmt::join(skipped, "; "))),
                    "Give a NXcanSAS or canSAS XML file; detector frames are opened with open_frames().");
  return curves;
}

}  // namespace sievelight
