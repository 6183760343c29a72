// SPDX-License-Identifier: GPL-3.0-or-later
/// The objects of a NeXus file as a list, and its fields with their units.
#pragma once

#include "sievelight/base/hdf5.hpp"
#include "sievelight/base/units.hpp"

namespace sievelight {

struct NexusObject {
  std::string path, nx_class;  // class is empty for data sets
  bool is_dataset = false;
  bool is_number = false;      // a data set of integers or floating-point numbers
  bool is_signal = false;      // marked by the old attribute signal = 1
  std::vector<hsize_t> shape;  // of a data set
  unsigned long file = 0;      // with `address`: one object under several paths has one identity
  haddr_t address = 0;
};

/// Every object of a file, parents first, at most 12 levels deep and 20000 in number; links that lead nowhere are left
/// out. Hold hdf5_lock().
std::vector<NexusObject> list_objects(hid_t file);

/// The path of the object that holds this one.
std::string parent_of(const std::string& path);
bool is_below(const std::string& path, const std::string& group);

/// A numeric field: its values and its unit (nullopt when it has none or an empty one).
struct NexusField {
  Eigen::VectorXd values;
  std::optional<std::string> unit;
};
std::optional<NexusField> read_field(hid_t file, const std::string& path);

/// The field in the unit of `quantity`. A unit that is absent is taken as `assumed`; both that and a unit that is not
/// understood (nullopt then) are written to `notes` in words.
std::optional<Eigen::VectorXd> read_quantity(hid_t file, const std::string& path, Quantity quantity,
                                             const std::string& assumed, std::vector<std::string>& notes);

}  // namespace sievelight
