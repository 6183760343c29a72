// SPDX-License-Identifier: GPL-3.0-or-later
// HDF5 files that are sound as files and hostile as content: any type, shape, layout, filter, link, attribute and raw
// chunk that the library itself lets one write. Flipping bits of a file seldom gets beyond the library's own checks.
#include "harness.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/hdf5.hpp"
#include "sievelight/curve/nxcansas_io.hpp"
#include "sievelight/frames/mask.hpp"
#include "sievelight/frames/open.hpp"

#include <cstdlib>
#include <vector>

namespace sievelight::fuzz {
namespace {

constexpr const char* frame_fields[] = {"data",
                                        "distance",
                                        "x_pixel_size",
                                        "y_pixel_size",
                                        "beam_center_x",
                                        "beam_center_y",
                                        "pixel_mask",
                                        "count_time",
                                        "saturation_value",
                                        "sensor_thickness",
                                        "sensor_material",
                                        "dead_time",
                                        "frame_time",
                                        "exposure_time",
                                        "pitch",
                                        "yaw",
                                        "energy",
                                        "wavelength",
                                        "preset",
                                        "mode",
                                        "integral",
                                        "flatfield_applied",
                                        "name",
                                        "wavelength_spread"};
constexpr const char* curve_fields_[] = {
    "Q",     "I",      "Idev",      "Qdev",           "dQl",     "dQw",       "Idev_private",
    "Q_low", "Q_high", "cause_1",   "scaling_factor", "cause_2", "title",     "run",
    "name",  "SDD",    "thickness", "transmission",   "term_01", "details_01"};
constexpr const char* attribute_names[] = {
    "units", "signal",      "interpretation", "NX_class",       "canSAS_class", "uncertainties", "id",
    "kind",  "resolutions", "default",        "scaling_factor", "axes",         "name"};
constexpr const char* attribute_values[] = {"mm",        "NXdetector", "NXentry", "NXdata", "NXmonitor", "SASentry",
                                            "SASdata",   "I",          "Q",       "1/nm",   "1/A",       "1/cm",
                                            "spectrum",  "scalar",     "1",       "pixels", "pointwise", "coherent",
                                            "SASsample", "SASprocess", "s",       "keV",    "Qdev",      "data"};

H5Handle some_type(Choices& choices) {
  const auto copy = [](hid_t type) { return H5Handle(H5Tcopy(type), H5Tclose); };
  const hid_t plain[] = {H5T_STD_I32LE, H5T_STD_U16BE,  H5T_STD_I8LE,   H5T_STD_U64LE,
                         H5T_STD_U32LE, H5T_IEEE_F64LE, H5T_IEEE_F32BE, H5T_IEEE_F64LE};
  const std::size_t which = choices.below(16);
  if (which < 8) return copy(plain[which]);
  if (which == 8) {
    H5Handle type = copy(H5T_C_S1);
    H5Tset_size(type.get(), 1 + choices.below(40));
    return type;
  }
  if (which == 9) {
    H5Handle type = copy(H5T_C_S1);
    H5Tset_size(type.get(), H5T_VARIABLE);
    return type;
  }
  if (which == 10) {  // a number of odd width
    H5Handle type = copy(H5T_STD_I32LE);
    H5Tset_precision(type.get(), 1 + choices.below(32));
    H5Tset_size(type.get(), 4 + choices.below(12));
    return type;
  }
  if (which == 11) {
    H5Handle type(H5Tenum_create(choices.below(2) ? H5T_STD_I8LE : H5T_STD_I32LE), H5Tclose);
    return type;
  }
  if (which == 12) {
    H5Handle type(H5Tcreate(H5T_COMPOUND, 8), H5Tclose);
    H5Tinsert(type.get(), "r", 0, H5T_IEEE_F32LE);
    return type;
  }
  if (which == 13) return {H5Tcreate(H5T_OPAQUE, 1 + choices.below(16)), H5Tclose};
  if (which == 14) return {H5Tvlen_create(H5T_STD_I32LE), H5Tclose};
  return copy(H5T_STD_REF_OBJ);
}

H5Handle some_space(Choices& choices, std::vector<hsize_t>& dims) {
  const std::size_t kind = choices.below(8);
  if (kind == 0) return {H5Screate(choices.below(2) ? H5S_NULL : H5S_SCALAR), H5Sclose};
  dims.resize(1 + choices.below(kind == 7 ? 4 : 3));
  for (hsize_t& n : dims) {
    const std::size_t how = choices.below(16);
    n = how == 0 ? choices.number(4) : how == 1 ? choices.number(6) : choices.below(24);
  }
  return {H5Screate_simple(static_cast<int>(dims.size()), dims.data(), nullptr), H5Sclose};
}

void some_attributes(hid_t object, Choices& choices) {
  for (std::size_t n = choices.below(4); n > 0; --n) {
    const char* name = attribute_names[choices.below(std::size(attribute_names))];
    if (choices.below(4) > 0) {
      try {
        h5_write_attribute(object, name, attribute_values[choices.below(std::size(attribute_values))]);
      } catch (const Error&) {  // it is there already
      }
      continue;
    }
    std::vector<hsize_t> dims;
    const H5Handle type = some_type(choices), space = some_space(choices, dims);
    const H5Handle attribute(H5Acreate2(object, name, type.get(), space.get(), H5P_DEFAULT, H5P_DEFAULT), H5Aclose);
    const hssize_t points = H5Sget_simple_extent_npoints(space.get());
    const bool by_pointer = H5Tget_class(type.get()) == H5T_VLEN || H5Tis_variable_str(type.get()) > 0;
    if (!attribute || by_pointer || points <= 0 || points > 4096) continue;
    std::vector<unsigned char> values(static_cast<std::size_t>(points) * H5Tget_size(type.get()));
    const Input bytes = choices.bytes(values.size());
    std::copy(bytes.begin(), bytes.end(), values.begin());
    H5Awrite(attribute.get(), type.get(), values.data());
  }
}

void some_dataset(hid_t where, const char* name, Choices& choices) {
  std::vector<hsize_t> dims;
  const H5Handle type = some_type(choices), space = some_space(choices, dims);
  const H5Handle properties(H5Pcreate(H5P_DATASET_CREATE), H5Pclose);
  const std::size_t layout = choices.below(8);
  std::vector<hsize_t> chunk(dims.size());
  if (layout < 4 && !dims.empty()) {
    for (hsize_t& n : chunk) n = choices.below(16) == 0 ? choices.number(4) : 1 + choices.below(24);
    H5Pset_chunk(properties.get(), static_cast<int>(chunk.size()), chunk.data());
    if (choices.below(4) == 0) H5Pset_chunk_opts(properties.get(), H5D_CHUNK_DONT_FILTER_PARTIAL_CHUNKS);
    for (std::size_t n = choices.below(3); n > 0; --n) {
      static constexpr H5Z_filter_t ids[] = {1, 2, 3, 32008, 32008, 4, 5, 6, 307, 32001};
      unsigned parameters[6] = {};
      const std::size_t count = choices.below(7);
      for (std::size_t i = 0; i < count; ++i) parameters[i] = choices.byte();
      H5Pset_filter(properties.get(), ids[choices.below(std::size(ids))], H5Z_FLAG_OPTIONAL, count, parameters);
    }
  } else if (layout == 4) {
    H5Pset_layout(properties.get(), H5D_COMPACT);
  } else if (layout == 5) {
    H5Pset_external(properties.get(), choices.below(2) ? "/etc/hostname" : "../elsewhere", 0, H5F_UNLIMITED);
  } else if (layout == 6 && !dims.empty()) {
    static constexpr const char* files[] = {".", "../elsewhere.h5", "/etc/hostname", "input", "part%b.h5", "%b/../x"};
    H5Pset_virtual(properties.get(), space.get(), files[choices.below(6)], choices.below(2) ? "/entry" : "/x/data",
                   space.get());
  }
  const H5Handle set(H5Dcreate2(where, name, type.get(), space.get(), H5P_DEFAULT, properties.get(), H5P_DEFAULT),
                     H5Dclose);
  if (!set) return;
  H5Fflush(set.get(), H5F_SCOPE_LOCAL);  // else the writer may use its cache after an error
  some_attributes(set.get(), choices);
  if (layout < 4 && !dims.empty()) {
    // With sizes near 2^32 the library's writer itself reads past its buffers; what is fuzzed here is the reading.
    for (const std::vector<hsize_t>* sizes : {&dims, &chunk})
      for (const hsize_t n : *sizes)
        if (n > 1 << 16) return;
    for (std::size_t n = choices.below(3); n > 0; --n) {
      std::vector<hsize_t> at(dims.size());
      for (std::size_t i = 0; i < at.size(); ++i) {
        at[i] = choices.below(2) * chunk[i];
        if (at[i] >= dims[i]) at[i] = 0;  // outside of the data set the library's writer writes past its index
        if (dims[i] == 0) return;
      }
      const unsigned skipped = static_cast<unsigned>(choices.below(4));
      const Input raw = choices.bytes(choices.number(2) % 700);
      if (raw.empty()) break;  // the library's writer crashes at an empty one
      H5Dwrite_chunk(set.get(), H5P_DEFAULT, skipped, at.data(), raw.size(), raw.data());
    }
  } else if (layout != 5 && layout != 6) {
    const hssize_t points = H5Sget_simple_extent_npoints(space.get());
    if (points <= 0 || points > 4096 || H5Tget_class(type.get()) == H5T_VLEN || H5Tis_variable_str(type.get()) > 0)
      return;
    std::vector<unsigned char> values(static_cast<std::size_t>(points) * H5Tget_size(type.get()));
    const Input bytes = choices.bytes(values.size());
    std::copy(bytes.begin(), bytes.end(), values.begin());
    H5Dwrite(set.get(), type.get(), H5S_ALL, H5S_ALL, H5P_DEFAULT, values.data());
  }
}

void some_link(hid_t where, const char* name, Choices& choices) {
  static constexpr const char* paths[] = {"/", "/entry", "/entry/detector/data", "/entry/loop", "/nowhere"};
  static constexpr const char* files[] = {"input", "../input", "/etc/hostname", "gone.h5"};
  const char* path = paths[choices.below(5)];
  switch (choices.below(3)) {
    case 0:
      H5Lcreate_soft(path, where, name, H5P_DEFAULT, H5P_DEFAULT);
      return;
    case 1:
      H5Lcreate_external(files[choices.below(4)], path, where, name, H5P_DEFAULT, H5P_DEFAULT);
      return;
    default:
      H5Lcreate_hard(where, path, where, name, H5P_DEFAULT, H5P_DEFAULT);
  }
}

template <std::size_t N>
void write_file(Choices& choices, const char* const (&fields)[N], const std::vector<std::string>& groups) {
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(scratch_path());
  std::vector<H5Handle> made;
  for (std::size_t i = 0; i + 1 < groups.size(); i += 2) {
    H5Handle group(H5Gcreate2(file.get(), groups[i].c_str(), H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT), H5Gclose);
    const auto equal = groups[i + 1].find('=');
    h5_write_attribute(group.get(), groups[i + 1].substr(0, equal), groups[i + 1].substr(equal + 1));
    made.push_back(std::move(group));
  }
  for (int n = 0; n < 24 && !choices.empty(); ++n) {
    const hid_t where = made[choices.below(made.size())].get();
    const char* name = fields[choices.below(N)];
    switch (choices.below(8)) {
      case 0:
        some_link(where, name, choices);
        break;
      case 1:
        some_attributes(where, choices);
        break;
      default:
        some_dataset(where, name, choices);
    }
  }
}

}  // namespace

void frames_nexus(Input input) {
  Choices choices(input);
  write_file(choices, frame_fields,
             {"/entry", "NX_class=NXentry", "/entry/detector", "NX_class=NXdetector", "/entry/monochromator",
              "NX_class=NXmonochromator", "/entry/control", "NX_class=NXmonitor", "/entry/other", "NX_class=NXdata"});
  OpenOptions named;
  named.dataset = "/entry/detector/data";
  for (const OpenOptions& options : {OpenOptions{}, named}) try {
      const FrameFile file(scratch_path(), options);
      if (file.rows() * file.columns() > 1 << 20) continue;
      check(file.read(0));
      if (file.count() > 1 && file.count() <= 16) check(file.read_sum());
    } catch (const Error&) {
    }
  try {
    read_mask(scratch_path(), 4, 5);
  } catch (const Error&) {
  }
}

void curve_fields(Input input) {
  Choices choices(input);
  write_file(choices, curve_fields_,
             {"/entry", "canSAS_class=SASentry", "/entry/data", "canSAS_class=SASdata", "/entry/sample",
              "canSAS_class=SASsample", "/entry/process", "canSAS_class=SASprocess", "/entry/instrument",
              "canSAS_class=SASinstrument", "/entry/instrument/detector", "canSAS_class=SASdetector"});
  try {
    for (const NamedCurve& named : read_nxcansas(scratch_path())) check(named.curve);
  } catch (const InputError& error) {
    defect(std::string("a reader gave a curve that is none: ") + error.what());
  } catch (const Error&) {
  }
}

}  // namespace sievelight::fuzz
