// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/hdf5.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/hdf5_driver.hpp"
#include "sievelight/base/hdf5_guard.hpp"
#include "sievelight/base/hdf5_outside.hpp"
#include "sievelight/base/regular_file.hpp"

#include <fmt/format.h>

#include <filesystem>

namespace sievelight {
namespace {

constexpr const char* check_file = "Check the path, and that the file was copied completely.";
// Bounds on what a header may claim, so that a broken file cannot ask for all memory: 512 MB of numbers, 64 MB of text.
constexpr hssize_t most_numbers = hssize_t{1} << 26;
constexpr std::size_t most_text = std::size_t{1} << 26;

void require(bool good, const std::string& action) {
  if (!good)
    throw DataError(fmt::format("HDF5 could not {}.", action), "Check free disk space and the rights on the folder.");
}

H5Handle text_type(std::size_t size) {
  H5Handle type(H5Tcopy(H5T_C_S1), H5Tclose);
  H5Tset_size(type.get(), size);
  H5Tset_cset(type.get(), H5T_CSET_UTF8);
  // The size counts letters only: there is no room for a closing zero.
  if (size != H5T_VARIABLE) H5Tset_strpad(type.get(), H5T_STR_NULLPAD);
  return type;
}

// Data sets without HDF5's hidden time stamp: the same content gives the same bytes.
H5Handle make_dataset(hid_t where, const std::string& name, hid_t type, hid_t space) {
  const H5Handle properties(H5Pcreate(H5P_DATASET_CREATE), H5Pclose);
  H5Pset_obj_track_times(properties.get(), false);
  return {H5Dcreate2(where, name.c_str(), type, space, H5P_DEFAULT, properties.get(), H5P_DEFAULT), H5Dclose};
}

// Reads strings through either of HDF5's two ways to store them.
template <typename Read>
std::vector<std::string> read_strings(hid_t type, hid_t space, const Read& read) {
  if (H5Tget_class(type) != H5T_STRING) return {};
  const hssize_t points = H5Sget_simple_extent_npoints(space);
  if (points <= 0) return {};
  const auto n = static_cast<std::size_t>(points);
  const std::size_t width = H5Tget_size(type);
  if (width == 0 || n > most_text / width)
    throw DataError(fmt::format("A text in the file claims {} x {} letters.", n, width), check_file);
  std::vector<std::string> out;
  if (H5Tis_variable_str(type) > 0) {
    H5Handle memory(H5Tcopy(H5T_C_S1), H5Tclose);
    H5Tset_size(memory.get(), H5T_VARIABLE);
    H5Tset_cset(memory.get(), H5Tget_cset(type));
    std::vector<char*> raw(n, nullptr);
    const bool done = read(memory.get(), static_cast<void*>(raw.data())) >= 0;
    throw_if_read_refused();
    if (!done) return {};
    for (const char* s : raw) out.emplace_back(s ? s : "");
    H5Dvlen_reclaim(memory.get(), space, H5P_DEFAULT, raw.data());
    return out;
  }
  std::string raw(n * width, '\0');
  const H5Handle memory(H5Tcopy(type), H5Tclose);
  if (read(memory.get(), static_cast<void*>(raw.data())) < 0) return {};
  for (std::size_t i = 0; i < n; ++i) {
    std::string s = raw.substr(i * width, width);
    if (const auto end = s.find('\0'); end != std::string::npos) s.resize(end);
    while (!s.empty() && s.back() == ' ') s.pop_back();
    out.push_back(s);
  }
  return out;
}

// Attributes are strings of variable length: h5py hands those out as str, and strings of fixed length as bytes.
void write_strings(hid_t object, const std::string& name, const std::vector<const char*>& values, hid_t space) {
  const H5Handle type = text_type(H5T_VARIABLE);
  const H5Handle attribute(H5Acreate2(object, name.c_str(), type.get(), space, H5P_DEFAULT, H5P_DEFAULT), H5Aclose);
  require(attribute && H5Awrite(attribute.get(), type.get(), values.data()) >= 0, "write the attribute '" + name + "'");
}

void write_array(hid_t where, const std::string& name, const std::vector<hsize_t>& shape, const double* data,
                 const std::string& units) {
  const H5Handle space(
      shape.empty() ? H5Screate(H5S_SCALAR) : H5Screate_simple(static_cast<int>(shape.size()), shape.data(), nullptr),
      H5Sclose);
  const H5Handle set = make_dataset(where, name, H5T_IEEE_F64LE, space.get());
  require(bool(set), "create the data set '" + name + "'");
  require(H5Dwrite(set.get(), H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, data) >= 0,
          "write the data set '" + name + "'");
  if (!units.empty()) h5_write_attribute(set.get(), "units", units);
}

}  // namespace

std::unique_lock<std::recursive_mutex> hdf5_lock() {
  static std::recursive_mutex mutex;
  std::unique_lock lock(mutex);
  // A thread-safe HDF5 keeps the stack of errors, and whether it prints them, for each thread.
  thread_local const bool quiet = H5Eset_auto2(H5E_DEFAULT, nullptr, nullptr) >= 0;
  (void)quiet;
  return lock;
}

H5Handle& H5Handle::operator=(H5Handle&& other) noexcept {
  if (this != &other) {
    const auto lock = hdf5_lock();
    if (id_ >= 0 && closer_) closer_(id_);
    id_ = other.id_;
    closer_ = other.closer_;
    other.id_ = -1;
  }
  return *this;
}

H5Handle::~H5Handle() {
  if (id_ >= 0 && closer_) {
    const auto lock = hdf5_lock();
    closer_(id_);
  }
}

H5Handle h5_open(const std::string& path) {
  const auto lock = hdf5_lock();
  std::error_code ignored;
  if (!std::filesystem::is_directory(path, ignored)) require_regular_file(path);  // a folder is told below
  // Reading takes no lock on the file: network shares often have none to give.
  const H5Handle access(H5Pcreate(H5P_FILE_ACCESS), H5Pclose);
  H5Pset_file_locking(access.get(), false, true);
  set_reading_driver(access.get());
  H5Handle file(H5Fopen(path.c_str(), H5F_ACC_RDONLY, access.get()), H5Fclose);
  if (!file) {
    throw_if_read_refused();
    const bool hdf5 = H5Fis_hdf5(path.c_str()) > 0;
    throw DataError(fmt::format("'{}' {}.", path, hdf5 ? "is a truncated or broken HDF5 file" : "is not an HDF5 file"),
                    check_file);
  }
  return file;
}

H5Handle h5_create(const std::string& path) {
  const auto lock = hdf5_lock();
  H5Handle file(H5Fcreate(path.c_str(), H5F_ACC_TRUNC, H5P_DEFAULT, H5P_DEFAULT), H5Fclose);
  require(bool(file), "create '" + path + "'");
  return file;
}

H5Handle h5_group(hid_t where, const std::string& name) {
  if (!h5_exists(where, name)) return {};
  H5Handle group(H5Gopen2(where, name.c_str(), h5_group_access()), H5Gclose);
  throw_if_link_refused();
  return group;
}

H5Handle h5_dataset(hid_t where, const std::string& name) {
  if (!h5_exists(where, name)) return {};
  H5Handle set(H5Dopen2(where, name.c_str(), h5_dataset_access()), H5Dclose);
  throw_if_link_refused();
  throw_if_read_refused();  // what a virtual data set is made of stands in a heap
  return set;
}

bool h5_exists(hid_t where, const std::string& name) {
  // Every step of a path must exist before the next may be asked for.
  std::size_t at = 0;
  while (at != std::string::npos) {
    at = name.find('/', at + 1);
    const std::string part = name.substr(0, at);
    if (part.empty() || part == "/") continue;
    const bool there = H5Lexists(where, part.c_str(), h5_link_access()) > 0;
    throw_if_link_refused();
    if (!there) return false;
  }
  const bool leads_somewhere = H5Oexists_by_name(where, name.c_str(), h5_link_access()) > 0;
  throw_if_link_refused();
  return leads_somewhere;
}

std::vector<std::string> h5_children(hid_t group) {
  std::vector<std::string> names;
  H5Literate(
      group, H5_INDEX_NAME, H5_ITER_INC, nullptr,
      [](hid_t, const char* name, const H5L_info_t*, void* out) -> herr_t {
        static_cast<std::vector<std::string>*>(out)->emplace_back(name);
        return 0;
      },
      &names);
  return names;
}

std::vector<std::string> h5_attribute_list(hid_t object, const std::string& name) {
  if (H5Aexists(object, name.c_str()) <= 0) return {};
  const H5Handle attribute(H5Aopen(object, name.c_str(), H5P_DEFAULT), H5Aclose);
  const H5Handle type(H5Aget_type(attribute.get()), H5Tclose);
  const H5Handle space(H5Aget_space(attribute.get()), H5Sclose);
  return read_strings(type.get(), space.get(),
                      [&](hid_t memory, void* data) { return H5Aread(attribute.get(), memory, data); });
}

std::optional<std::string> h5_attribute(hid_t object, const std::string& name) {
  const auto all = h5_attribute_list(object, name);
  return all.empty() ? std::nullopt : std::optional(all.front());
}

std::optional<std::string> h5_text(hid_t where, const std::string& name) {
  const H5Handle set = h5_dataset(where, name);
  if (!set) return std::nullopt;
  const H5Handle type(H5Dget_type(set.get()), H5Tclose);
  if (H5Tget_class(type.get()) != H5T_STRING) return std::nullopt;
  require_readable(set.get(), fmt::format("The data set '{}'", name));
  const H5Handle space(H5Dget_space(set.get()), H5Sclose);
  const auto all = read_strings(type.get(), space.get(), [&](hid_t memory, void* data) {
    return H5Dread(set.get(), memory, H5S_ALL, H5S_ALL, H5P_DEFAULT, data);
  });
  return all.empty() ? std::nullopt : std::optional(all.front());
}

std::optional<Eigen::VectorXd> h5_numbers(hid_t where, const std::string& name) {
  const H5Handle set = h5_dataset(where, name);
  if (!set) return std::nullopt;
  const H5Handle type(H5Dget_type(set.get()), H5Tclose);
  const H5T_class_t kind = H5Tget_class(type.get());
  if (kind != H5T_INTEGER && kind != H5T_FLOAT && kind != H5T_ENUM) return std::nullopt;
  const H5Handle space(H5Dget_space(set.get()), H5Sclose);
  const hssize_t n = H5Sget_simple_extent_npoints(space.get());
  if (n < 0) return std::nullopt;
  if (n > most_numbers) throw DataError(fmt::format("The data set '{}' claims {} numbers.", name, n), check_file);
  require_readable(set.get(), fmt::format("The data set '{}'", name));
  Eigen::VectorXd values(n);
  // An enumeration (h5py's booleans) is read as the integers behind it.
  if (kind == H5T_ENUM) {
    std::vector<signed char> raw(static_cast<std::size_t>(n));
    if (H5Tget_size(type.get()) != 1 || H5Dread(set.get(), type.get(), H5S_ALL, H5S_ALL, H5P_DEFAULT, raw.data()) < 0)
      return std::nullopt;
    for (hssize_t i = 0; i < n; ++i) values[i] = raw[static_cast<std::size_t>(i)];
    return values;
  }
  if (n > 0 && H5Dread(set.get(), H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, values.data()) < 0)
    throw DataError(fmt::format("The data set '{}' cannot be read.", name), check_file);
  return values;
}

std::vector<hsize_t> h5_shape(hid_t dataset) {
  const H5Handle space(H5Dget_space(dataset), H5Sclose);
  const int rank = H5Sget_simple_extent_ndims(space.get());
  std::vector<hsize_t> shape(static_cast<std::size_t>(std::max(rank, 0)));
  if (rank > 0) H5Sget_simple_extent_dims(space.get(), shape.data(), nullptr);
  return shape;
}

H5Handle h5_make_group(hid_t where, const std::string& name, const std::string& nx_class) {
  H5Handle group(H5Gcreate2(where, name.c_str(), H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT), H5Gclose);
  require(bool(group), "create the group '" + name + "'");
  h5_write_attribute(group.get(), "NX_class", nx_class);
  return group;
}

void h5_write_attribute(hid_t object, const std::string& name, const std::string& value) {
  const H5Handle space(H5Screate(H5S_SCALAR), H5Sclose);
  write_strings(object, name, {value.c_str()}, space.get());
}

void h5_write_attribute(hid_t object, const std::string& name, const std::vector<std::string>& values) {
  std::vector<const char*> raw;
  for (const std::string& value : values) raw.push_back(value.c_str());
  const hsize_t n = values.size();
  const H5Handle space(H5Screate_simple(1, &n, nullptr), H5Sclose);
  write_strings(object, name, raw, space.get());
}

void h5_write_attribute(hid_t object, const std::string& name, int value) {
  const H5Handle space(H5Screate(H5S_SCALAR), H5Sclose);
  const H5Handle attribute(H5Acreate2(object, name.c_str(), H5T_STD_I32LE, space.get(), H5P_DEFAULT, H5P_DEFAULT),
                           H5Aclose);
  require(attribute && H5Awrite(attribute.get(), H5T_NATIVE_INT, &value) >= 0, "write the attribute '" + name + "'");
}

void h5_write_text(hid_t where, const std::string& name, const std::string& value) {
  const H5Handle type = text_type(std::max<std::size_t>(value.size(), 1));
  const H5Handle space(H5Screate(H5S_SCALAR), H5Sclose);
  const H5Handle set = make_dataset(where, name, type.get(), space.get());
  require(set && H5Dwrite(set.get(), type.get(), H5S_ALL, H5S_ALL, H5P_DEFAULT, value.c_str()) >= 0,
          "write the text '" + name + "'");
}

void h5_write(hid_t where, const std::string& name, double value, const std::string& units) {
  write_array(where, name, {}, &value, units);
}

void h5_write(hid_t where, const std::string& name, const Eigen::VectorXd& values, const std::string& units) {
  write_array(where, name, {static_cast<hsize_t>(values.size())}, values.data(), units);
}

void h5_write(hid_t where, const std::string& name, const Eigen::MatrixXd& values, const std::string& units) {
  const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> rows = values;
  write_array(where, name, {static_cast<hsize_t>(values.rows()), static_cast<hsize_t>(values.cols())}, rows.data(),
              units);
}

}  // namespace sievelight
