// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/find_frames.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/frames/nexus_tree.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <set>

namespace sievelight {
namespace {

using Objects = std::vector<const NexusObject*>;

bool could_be_frames(const NexusObject& object) {
  return object.is_dataset && object.is_number && (object.shape.size() == 2 || object.shape.size() == 3);
}
bool could_be_strip(const NexusObject& object) {
  return object.is_dataset && object.is_number && object.shape.size() < 2;
}

// One object that is linked under several paths counts once, under its first.
Objects distinct(const Objects& objects) {
  Objects out;
  std::set<std::pair<unsigned long, haddr_t>> seen;
  for (const NexusObject* object : objects)
    if (seen.insert({object->file, object->address}).second) out.push_back(object);
  return out;
}

std::string list(const Objects& objects) {
  std::vector<std::string> lines;
  for (const NexusObject* object : objects)
    lines.push_back(fmt::format("{} ({})", object->path, fmt::join(object->shape, " x ")));
  if (lines.size() > 12) lines.resize(12), lines.push_back("...");
  return fmt::format("{}", fmt::join(lines, ", "));
}

Objects detector_data(const std::vector<NexusObject>& objects, bool (*serves)(const NexusObject&)) {
  std::set<std::string> detectors;
  for (const NexusObject& object : objects)
    if (object.nx_class == "NXdetector") detectors.insert(object.path + "/data");
  Objects out;
  for (const NexusObject& object : objects)
    if (serves(object) && detectors.contains(object.path)) out.push_back(&object);
  return distinct(out);
}

Objects signals(hid_t file, const std::vector<NexusObject>& objects) {
  std::set<std::string> named, data_groups;
  for (const NexusObject& object : objects)
    if (object.nx_class == "NXdata") {
      data_groups.insert(object.path);
      const H5Handle group = h5_group(file, object.path);
      if (const auto signal = h5_attribute(group.get(), "signal")) named.insert(object.path + "/" + *signal);
    }
  Objects out;
  for (const NexusObject& object : objects)
    if (could_be_frames(object) &&
        (named.contains(object.path) || (object.is_signal && data_groups.contains(parent_of(object.path)))))
      out.push_back(&object);
  return distinct(out);
}

// The entry that the file itself names as the one to show.
Objects within_default_entry(hid_t file, const Objects& found) {
  const H5Handle root(H5Gopen2(file, "/", H5P_DEFAULT), H5Gclose);
  const auto name = h5_attribute(root.get(), "default");
  if (!name || name->empty() || found.size() < 2) return found;
  std::string entry = *name;
  if (entry.front() != '/') entry.insert(entry.begin(), '/');
  Objects out;
  for (const NexusObject* object : found)
    if (is_below(object->path, entry)) out.push_back(object);
  return out.empty() ? found : out;
}

bool holds_curves(hid_t file, const std::vector<NexusObject>& objects) {
  return std::any_of(objects.begin(), objects.end(), [&](const NexusObject& object) {
    if (object.is_dataset) return false;
    const H5Handle group = h5_group(file, object.path);
    return h5_attribute(group.get(), "canSAS_class").value_or("") == "SASdata";
  });
}

}  // namespace

std::string find_frames(hid_t file, const std::string& path, const std::string& asked) {
  if (!asked.empty() && asked.front() == '/') return asked;
  if (!asked.empty()) return std::string("/").append(asked);
  const std::vector<NexusObject> objects = list_objects(file);
  Objects all;
  for (const NexusObject& object : objects)
    if (could_be_frames(object)) all.push_back(&object);
  all = distinct(all);
  for (const Objects& found :
       {detector_data(objects, could_be_frames), signals(file, objects), detector_data(objects, could_be_strip), all}) {
    const Objects chosen = within_default_entry(file, found);
    if (chosen.size() == 1) return chosen.front()->path;
    if (chosen.size() > 1)
      throw DataError(fmt::format("'{}' holds several data sets that could be the detector's: {}.", path, list(chosen)),
                      "Name one with the option dataset.");
  }
  if (holds_curves(file, objects))
    throw DataError(fmt::format("'{}' holds reduced curves (NXcanSAS), not detector frames.", path),
                    "Read it with read_curves(), or give its row in the measurement table the role curve.");
  Objects numbers;
  for (const NexusObject& object : objects)
    if (object.is_dataset && object.is_number && !object.shape.empty()) numbers.push_back(&object);
  throw DataError(
      fmt::format("'{}' holds no detector frame: neither NXdetector/data, nor an NXdata signal, nor any other numbers "
                  "in 2 or 3 dimensions. {}",
                  path, numbers.empty() ? "It has no arrays at all." : "Its arrays: " + list(numbers) + "."),
      "Check that this is the detector's file and not a master file whose data files were left behind; a strip's "
      "counts "
      "in one dimension can be named with the option dataset.");
}

}  // namespace sievelight
