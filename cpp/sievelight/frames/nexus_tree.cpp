// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/nexus_tree.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/hdf5_outside.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace sievelight {
namespace {

constexpr std::size_t deepest = 12;
constexpr std::size_t most_objects = 20000;

bool has_signal_mark(hid_t set) {
  if (H5Aexists(set, "signal") <= 0) return false;
  if (const auto text = h5_attribute(set, "signal")) return *text == "1";
  const H5Handle attribute(H5Aopen(set, "signal", H5P_DEFAULT), H5Aclose);
  const H5Handle space(H5Aget_space(attribute.get()), H5Sclose);
  const H5Handle type(H5Aget_type(attribute.get()), H5Tclose);
  int value = 0;
  return H5Sget_simple_extent_npoints(space.get()) == 1 && H5Tget_class(type.get()) == H5T_INTEGER &&
         H5Aread(attribute.get(), H5T_NATIVE_INT, &value) >= 0 && value == 1;
}

// `above`: the groups that lead here; a link back to one of them is a circle and not followed.
void walk(hid_t group, const std::string& path, std::vector<std::pair<unsigned long, haddr_t>>& above,
          std::vector<NexusObject>& out) {
  if (above.size() > deepest) return;
  for (const std::string& name : h5_children(group)) {
    if (out.size() >= most_objects) return;
    if (!h5_exists(group, name)) continue;
    const H5Handle object(H5Oopen(group, name.c_str(), h5_link_access()), H5Oclose);
    H5O_info_t info;
    if (!object || H5Oget_info1(object.get(), &info) < 0) continue;
    NexusObject found;
    found.path = path + "/" + name;
    found.file = info.fileno;
    found.address = info.addr;
    if (info.type == H5O_TYPE_DATASET) {
      found.is_dataset = true;
      const H5Handle type(H5Dget_type(object.get()), H5Tclose);
      const H5T_class_t kind = H5Tget_class(type.get());
      found.is_number = kind == H5T_INTEGER || kind == H5T_FLOAT;
      found.shape = h5_shape(object.get());
      found.is_signal = has_signal_mark(object.get());
      out.push_back(found);
    } else if (info.type == H5O_TYPE_GROUP) {
      found.nx_class = h5_attribute(object.get(), "NX_class").value_or("");
      out.push_back(found);
      const std::pair identity{found.file, found.address};
      if (std::find(above.begin(), above.end(), identity) != above.end()) continue;
      above.push_back(identity);
      walk(object.get(), found.path, above, out);
      above.pop_back();
    }
  }
}

}  // namespace

std::vector<NexusObject> list_objects(hid_t file) {
  std::vector<NexusObject> out;
  const H5Handle root(H5Gopen2(file, "/", H5P_DEFAULT), H5Gclose);
  H5O_info_t info;
  if (!root || H5Oget_info1(root.get(), &info) < 0) return out;
  std::vector<std::pair<unsigned long, haddr_t>> above{{info.fileno, info.addr}};
  walk(root.get(), "", above, out);
  return out;
}

std::string parent_of(const std::string& path) {
  const auto slash = path.rfind('/');
  return slash == std::string::npos || slash == 0 ? "/" : path.substr(0, slash);
}

bool is_below(const std::string& path, const std::string& group) {
  return group == "/" || path.rfind(group + "/", 0) == 0;
}

std::optional<NexusField> read_field(hid_t file, const std::string& path) {
  const auto values = h5_numbers(file, path);
  if (!values || values->size() == 0) return std::nullopt;
  const H5Handle set = h5_dataset(file, path);
  auto unit = h5_attribute(set.get(), "units");
  if (unit && unit->empty()) unit.reset();
  return NexusField{*values, unit};
}

std::optional<Eigen::VectorXd> read_quantity(hid_t file, const std::string& path, Quantity quantity,
                                             const std::string& assumed, std::vector<std::string>& notes) {
  const auto field = read_field(file, path);
  if (!field) return std::nullopt;
  const std::string name = path.substr(path.rfind('/') + 1);
  const auto left_out = [&] {
    notes.push_back(fmt::format("{} is not finite; left out", name));
    return std::nullopt;
  };
  if (!field->values.allFinite()) return left_out();
  if (!field->unit) notes.push_back(fmt::format("{} has no unit; taken as {}", name, assumed));
  try {
    Eigen::VectorXd values = field->values * unit_factor(field->unit.value_or(assumed), quantity);
    if (!values.allFinite()) return left_out();  // a number that no longer is one in our unit
    return values;
  } catch (const InputError&) {
    notes.push_back(fmt::format("{} has the unit '{}', which is not understood; left out", name, *field->unit));
    return std::nullopt;
  }
}

}  // namespace sievelight
