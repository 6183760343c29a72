// SPDX-License-Identifier: GPL-3.0-or-later
/// HDF5 with owned handles, one lock and no printing.
/// Not every HDF5 is built thread-safe: hold hdf5_lock() around every call. Raw chunks are decoded outside the lock.
#pragma once

#include <hdf5.h>

#include <Eigen/Core>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

namespace sievelight {

/// The process-wide lock around HDF5; recursive so that helpers may nest. Also switches HDF5's printing off, in each
/// thread once.
std::unique_lock<std::recursive_mutex> hdf5_lock();

/// An HDF5 identifier that closes itself.
class H5Handle {
 public:
  using Closer = herr_t (*)(hid_t);
  H5Handle() = default;
  H5Handle(hid_t id, Closer closer) : id_(id), closer_(closer) {}
  H5Handle(H5Handle&& other) noexcept : id_(other.id_), closer_(other.closer_) { other.id_ = -1; }
  H5Handle& operator=(H5Handle&& other) noexcept;
  H5Handle(const H5Handle&) = delete;
  H5Handle& operator=(const H5Handle&) = delete;
  ~H5Handle();
  hid_t get() const { return id_; }
  explicit operator bool() const { return id_ >= 0; }

 private:
  hid_t id_ = -1;
  Closer closer_ = nullptr;
};

/// Opens a file read-only. DataError when it is missing, no regular file, not HDF5, or truncated. The library is
/// trusted to refuse metadata that were damaged on purpose: hdf5_guard.hpp checks sizes, filters and chunks, and cannot
/// see inside of its indices and messages; hdf5_driver.hpp looks at its heaps of texts.
H5Handle h5_open(const std::string& path);
/// Creates a file (truncating one of that name). DataError when that is not possible.
H5Handle h5_create(const std::string& path);
/// Opens a group or data set below `where`; an empty handle when there is none.
H5Handle h5_group(hid_t where, const std::string& name);
H5Handle h5_dataset(hid_t where, const std::string& name);
/// True when a link of that name leads to an object below `where`.
bool h5_exists(hid_t where, const std::string& name);
/// Names of the links below a group, sorted by name.
std::vector<std::string> h5_children(hid_t group);

/// A string attribute (first element of an array of strings); nullopt when absent.
std::optional<std::string> h5_attribute(hid_t object, const std::string& name);
/// All strings of a string attribute (one for a scalar); empty when absent.
std::vector<std::string> h5_attribute_list(hid_t object, const std::string& name);
/// A string data set (first element); nullopt when absent or not text.
std::optional<std::string> h5_text(hid_t where, const std::string& name);
/// A numeric data set of any shape, flattened in C order and converted to double; nullopt when absent or not numeric.
std::optional<Eigen::VectorXd> h5_numbers(hid_t where, const std::string& name);
/// Extent of a data set, slowest first; empty for a scalar.
std::vector<hsize_t> h5_shape(hid_t dataset);

/// Creates a group with NX_class and any further string attributes.
H5Handle h5_make_group(hid_t where, const std::string& name, const std::string& nx_class);
void h5_write_attribute(hid_t object, const std::string& name, const std::string& value);
void h5_write_attribute(hid_t object, const std::string& name, const std::vector<std::string>& values);
void h5_write_attribute(hid_t object, const std::string& name, int value);
void h5_write_text(hid_t where, const std::string& name, const std::string& value);
/// Writes a scalar, a vector or a matrix of doubles (C order), with a `units` attribute unless empty.
void h5_write(hid_t where, const std::string& name, double value, const std::string& units = "");
void h5_write(hid_t where, const std::string& name, const Eigen::VectorXd& values, const std::string& units = "");
void h5_write(hid_t where, const std::string& name, const Eigen::MatrixXd& values, const std::string& units = "");

}  // namespace sievelight
