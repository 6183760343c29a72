// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/hdf5_outside.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/hdf5.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <exception>
#include <filesystem>
#include <optional>
#include <set>
#include <sstream>
#include <utility>

namespace sievelight {
namespace {

namespace fs = std::filesystem;

constexpr const char* let_in =
    "If you trust it, copy that file beside the one that names it, or name its folder in the environment variable "
    "SIEVELIGHT_TRUSTED_FOLDERS.";
constexpr int deepest = 4;                   // virtual data sets of virtual data sets
constexpr std::size_t most_sources = 65536;  // of one data set

// What the last refused link was; written and read under HDF5's lock.
std::string& refused() {
  static std::string words;
  return words;
}

std::vector<fs::path> folders_of(const char* variable) {
  std::vector<fs::path> out;
  const char* value = std::getenv(variable);
  std::istringstream parts(value ? value : "");
  for (std::string part; std::getline(parts, part, ':');)
    if (!part.empty()) out.emplace_back(part);
  return out;
}

bool below(const fs::path& file, const fs::path& folder) {
  std::error_code failed;
  const fs::path whole = fs::canonical(folder, failed);
  return !failed && std::mismatch(whole.begin(), whole.end(), file.begin(), file.end()).first == whole.end();
}

// Where HDF5 looks for a file that another one names, in its order: H5F_prefix_open_file of HDF5 1.10. An absolute path
// is also looked for by its last part, a relative one in the working folder.
std::vector<fs::path> places(const fs::path& parent, const fs::path& named, const std::vector<fs::path>& prefixes) {
  std::error_code ignored;
  const fs::path shortened = named.is_absolute() ? named.filename() : named;
  std::vector<fs::path> out;
  if (named.is_absolute()) out.push_back(named);
  for (const fs::path& prefix : prefixes) out.push_back(prefix / shortened);
  out.push_back(parent.parent_path() / shortened);
  out.push_back(shortened);
  out.push_back(fs::canonical(parent, ignored).parent_path() / shortened);
  return out;
}

bool is_allowed(const fs::path& file, const fs::path& parent, const std::vector<fs::path>& prefixes) {
  std::error_code failed;
  const fs::path whole = fs::canonical(file, failed);
  if (failed || !fs::is_regular_file(whole, failed)) return false;
  const fs::path folder = parent.parent_path().empty() ? fs::path(".") : parent.parent_path();
  std::vector<fs::path> roots = prefixes;
  roots.push_back(folder);
  roots.push_back(fs::canonical(parent, failed).parent_path());
  for (const fs::path& trusted : folders_of("SIEVELIGHT_TRUSTED_FOLDERS")) roots.push_back(trusted);
  return std::any_of(roots.begin(), roots.end(), [&](const fs::path& root) { return below(whole, root); });
}

struct Found {
  std::optional<fs::path> file;  // what HDF5 would open; empty when there is nothing to open
  bool outside = false;          // something is there that must not be opened
};

Found find(const std::string& parent, const std::string& named, const char* variable) {
  const std::vector<fs::path> prefixes = folders_of(variable);
  for (const fs::path& place : places(parent, named, prefixes)) {
    std::error_code failed;
    if (!fs::exists(fs::status(place, failed))) continue;
    if (!is_allowed(place, parent, prefixes)) return {std::nullopt, true};
    // HDF5 goes on to the next place where this one is no HDF5 file.
    if (H5Fis_hdf5(place.c_str()) > 0) return {place, false};
  }
  return {};
}

// Called by HDF5 for each external link on a path, before it opens the file; no exception may leave it.
herr_t follow(const char* parent, const char*, const char* named, const char* object, unsigned* flags, hid_t,
              void*) noexcept {
  *flags = H5F_ACC_RDONLY;  // whatever the first file was opened for
  try {
    if (!find(parent, named, "HDF5_EXT_PREFIX").outside) return 0;
    refused() = fmt::format("A link in '{}' leads to '{}' in the file '{}', which lies outside of its folder.", parent,
                            object, named);
  } catch (const std::exception&) {
    refused() = "A link leads to another file that could not be looked at.";
  }
  return -1;
}

hid_t access_list(hid_t kind) {
  const hid_t list = H5Pcreate(kind);
  H5Pset_elink_cb(list, follow, nullptr);
  return list;
}

std::string name_of_file(hid_t object) {
  const ssize_t length = H5Fget_name(object, nullptr, 0);
  std::string name(static_cast<std::size_t>(std::max<ssize_t>(length, 0)), '\0');
  H5Fget_name(object, name.data(), name.size() + 1);
  return name;
}

using GetName = ssize_t (*)(hid_t, std::size_t, char*, std::size_t);
std::string source_name(GetName get, hid_t properties, std::size_t index) {
  const ssize_t length = get(properties, index, nullptr, 0);
  std::string name(static_cast<std::size_t>(std::max<ssize_t>(length, 0)), '\0');
  get(properties, index, name.data(), name.size() + 1);
  return name;
}

// "%b" stands for the number of a block, "%%" for a percent sign (HDF5, H5Pset_virtual).
std::string with_number(const std::string& pattern, std::size_t number) {
  std::string out;
  for (std::size_t i = 0; i < pattern.size(); ++i) {
    if (pattern[i] == '%' && i + 1 < pattern.size() && (pattern[i + 1] == 'b' || pattern[i + 1] == '%'))
      out += pattern[++i] == 'b' ? std::to_string(number) : "%";
    else
      out += pattern[i];
  }
  return out;
}

bool is_pattern(const std::string& name) {
  for (std::size_t i = 0; i + 1 < name.size(); ++i)
    if (name[i] == '%') {
      if (name[i + 1] == 'b') return true;
      ++i;
    }
  return false;
}

class Sources {
 public:
  explicit Sources(const std::string& label) : label_(label) {}

  std::uint64_t bytes(hid_t set, int depth) {
    const H5Handle properties(H5Dget_create_plist(set), H5Pclose);
    const std::string parent = name_of_file(set);
    if (H5Pget_layout(properties.get()) != H5D_VIRTUAL) {
      look_at_external(properties.get(), parent);
      return H5Dget_storage_size(set);
    }
    std::size_t count = 0;
    if (H5Pget_virtual_count(properties.get(), &count) < 0 || count > most_sources || depth >= deepest)
      throw DataError(
          fmt::format("{} is made of too many parts of other data sets ({} at level {}).", label_, count, depth + 1),
          "Save the frames in one data set.");
    std::uint64_t total = 0;
    for (std::size_t i = 0; i < count; ++i) {
      const std::string file = source_name(H5Pget_virtual_filename, properties.get(), i);
      const std::string data = source_name(H5Pget_virtual_dsetname, properties.get(), i);
      const bool many = is_pattern(file) || is_pattern(data);
      for (std::size_t block = 0; block < (many ? most_sources : 1); ++block) {
        const auto part = source(set, parent, with_number(file, block), with_number(data, block), many, depth);
        if (!part) break;  // HDF5 ends a pattern at the first block that is not there
        total += *part;
      }
    }
    return total;
  }

 private:
  std::optional<std::uint64_t> source(hid_t set, const std::string& parent, const std::string& file,
                                      const std::string& data, bool many, int depth) {
    if (!seen_.insert({parent, file + '\n' + data}).second) return 0;
    H5Handle other;
    if (file == ".") {
      other = H5Handle(H5Iget_file_id(set), H5Fclose);
    } else {
      const Found found = find(parent, file, "HDF5_VDS_PREFIX");
      if (found.outside)
        throw DataError(
            fmt::format("{} takes numbers from the file '{}', which lies outside of its folder.", label_, file),
            let_in);
      if (!found.file && many) return std::nullopt;
      if (!found.file)
        throw DataError(fmt::format("{} takes frames from the file '{}', which is missing.", label_, file),
                        "Copy the data files together with their master file.");
      other = h5_open(found.file->string());
    }
    const H5Handle part = h5_dataset(other.get(), data);
    if (!part && many) return std::nullopt;
    if (!part)
      throw DataError(fmt::format("{} takes frames from '{}' in '{}', which is not there.", label_, data, file),
                      "Copy the data files together with their master file.");
    return bytes(part.get(), depth + 1);
  }

  void look_at_external(hid_t properties, const std::string& parent) {
    const int count = H5Pget_external_count(properties);
    const std::vector<fs::path> prefixes = folders_of("HDF5_EXTFILE_PREFIX");
    for (int i = 0; i < count; ++i) {
      std::string name(4097, '\0');
      H5Pget_external(properties, static_cast<unsigned>(i), name.size() - 1, name.data(), nullptr, nullptr);
      name.resize(name.find('\0'));
      // HDF5 takes it relative to the working folder, or to the folder of its variable.
      const fs::path place = prefixes.empty() ? fs::path(name) : prefixes.front() / name;
      if (!is_allowed(place, parent, prefixes))
        throw DataError(fmt::format("{} takes its numbers from the file '{}', which is missing or lies outside of its "
                                    "folder.",
                                    label_, name),
                        let_in);
    }
  }

  const std::string& label_;
  std::set<std::pair<std::string, std::string>> seen_;
};

}  // namespace

hid_t h5_link_access() {
  static const hid_t list = access_list(H5P_LINK_ACCESS);
  return list;
}

hid_t h5_group_access() {
  static const hid_t list = access_list(H5P_GROUP_ACCESS);
  return list;
}

hid_t h5_dataset_access() {
  static const hid_t list = access_list(H5P_DATASET_ACCESS);
  return list;
}

void throw_if_link_refused() {
  if (refused().empty()) return;
  throw DataError(std::exchange(refused(), ""), let_in);
}

std::uint64_t require_inside(hid_t set, const std::string& label) { return Sources(label).bytes(set, 0); }

}  // namespace sievelight
