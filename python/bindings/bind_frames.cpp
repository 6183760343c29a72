// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include <pybind11/numpy.h>

#include "sievelight/frames/frames.hpp"

#include <fmt/format.h>

using namespace sievelight;
using Eigen::Index;

namespace {

FrameFile open(const std::string& path, std::optional<std::string> dataset, std::optional<double> saturation_value,
               std::optional<double> exposure_s) {
  return FrameFile(path, {dataset.value_or(""), saturation_value, exposure_s});
}

// `fetch(index)` gives one exposure as a contiguous array of (rows, columns) of the stored type; Python checks it
// before.
FrameFile given(const std::string& path, const std::string& format, const std::string& stored_type, Index count,
                Index rows, Index columns, const py::function& fetch, const FrameMetadata& metadata,
                const Eigen::VectorXd& exposures_s, const Eigen::VectorXd& monitors, const std::optional<Mask>& masked,
                std::optional<double> saturation_value, std::optional<double> exposure_s) {
  const auto locked = [](auto* object) {  // the last one to let go of a Python object may not hold Python's lock
    py::gil_scoped_acquire lock;
    delete object;
  };
  const std::shared_ptr<py::function> call(new py::function(fetch), locked);
  const auto numbers = [call, locked](Index index) {
    py::gil_scoped_acquire lock;
    const std::shared_ptr<py::array> array(new py::array((*call)(index)), locked);
    return std::shared_ptr<const void>(array, array->data());
  };
  return FrameFile(path,
                   GivenFrames{format, stored_type, count, rows, columns, metadata, exposures_s, monitors,
                               masked.value_or(Mask()), numbers},
                   {"", saturation_value, exposure_s});
}

py::object array_or_none(const Eigen::VectorXd& values) {
  return values.size() == 0 ? py::object(py::none()) : py::cast(values);
}

Frame make_frame(const Image& counts, const std::optional<Mask>& masked, double exposure_s,
                 std::optional<double> monitor, Index exposures, const FrameMetadata& metadata) {
  Frame frame{counts,     masked.value_or(Mask::Constant(counts.rows(), counts.cols(), false)),
              exposure_s, monitor,
              exposures,  metadata};
  check(frame);
  return frame;
}

// One exposure's numbers in the type in which they are stored, into `out` where it is given.
py::object read_numbers(const FrameFile& file, Index index, const py::object& out) {
  const std::vector<Index> one = file.require_indices({index});
  const std::unique_ptr<StoredStream> stream = file.stream();
  if (!stream)
    throw InputError(
        fmt::format("'{}' is a file of {}; stored numbers are read from HDF5.", file.path(), file.format()),
        "Use read(index).counts.");
  const py::dtype type(stream->type().swapped ? ">" + py::str(stream->type().name).cast<std::string>()
                                              : stream->type().name);
  const std::vector<Index> shape{file.rows(), file.columns()};
  py::array numbers = out.is_none() ? py::array(type, shape) : out.cast<py::array>();
  if (!numbers.dtype().equal(type) || numbers.ndim() != 2 || numbers.shape(0) != shape[0] ||
      numbers.shape(1) != shape[1] || !(numbers.flags() & py::array::c_style))
    throw InputError(
        fmt::format("`out` is no array of {} x {} {}, row by row.", shape[0], shape[1], stream->type().name),
        "Leave it away to have one made.");
  auto* to = static_cast<unsigned char*>(numbers.mutable_data());
  {
    const py::gil_scoped_release release;
    StoredStream::Buffers buffers;
    stream->fill(one.front(), buffers, to);
  }
  return numbers;
}

}  // namespace

void bind_frames(py::module_& m) {
  py::class_<FrameMetadata>(m, "FrameMetadata",
                            "What a file declares about its frames; None where it says nothing. `notes` says, in plain "
                            "words, what was assumed and why.")
      .def(py::init<>())
      .def_readwrite("wavelength_nm", &FrameMetadata::wavelength_nm)
      .def_readwrite("wavelength_spread", &FrameMetadata::wavelength_spread)
      .def_readwrite("distance_mm", &FrameMetadata::distance_mm)
      .def_readwrite("beam_center_x_px", &FrameMetadata::beam_center_x_px)
      .def_readwrite("beam_center_y_px", &FrameMetadata::beam_center_y_px)
      .def_readwrite("pixel_size_x_mm", &FrameMetadata::pixel_size_x_mm)
      .def_readwrite("pixel_size_y_mm", &FrameMetadata::pixel_size_y_mm)
      .def_readwrite("pitch_deg", &FrameMetadata::pitch_deg)
      .def_readwrite("yaw_deg", &FrameMetadata::yaw_deg)
      .def_readwrite("roll_deg", &FrameMetadata::roll_deg)
      .def_readwrite("saturation_value", &FrameMetadata::saturation_value)
      .def_readwrite("dead_time_s", &FrameMetadata::dead_time_s)
      .def_readwrite("sensor_thickness_mm", &FrameMetadata::sensor_thickness_mm)
      .def_readwrite("sensor_material", &FrameMetadata::sensor_material)
      .def_readwrite("sample_name", &FrameMetadata::sample_name)
      .def_readwrite("countrate_correction_applied", &FrameMetadata::countrate_correction_applied)
      .def_readwrite("flatfield_applied", &FrameMetadata::flatfield_applied)
      .def_readwrite("notes", &FrameMetadata::notes);

  // counts and masked can be given but not replaced: NumPy looks at their memory without a copy.
  py::class_<Frame>(m, "Frame", "Counts of one measurement: a single exposure, or several summed.")
      .def(py::init(&make_frame), py::arg("counts"), py::arg("masked") = py::none(), py::kw_only(),
           py::arg("exposure_s") = std::numeric_limits<double>::quiet_NaN(), py::arg("monitor") = py::none(),
           py::arg("exposures") = 1, py::arg_v("metadata", FrameMetadata{}, "FrameMetadata()"))
      .def_readonly("counts", &Frame::counts, "(rows, columns) counts, summed over `exposures`")
      .def_readonly("masked", &Frame::masked, "(rows, columns) True = never use")
      .def(
          "add_mask", [](Frame& frame, const Mask& more) { frame.masked = unite(frame.masked, more); }, py::arg("more"),
          "Mask the pixels of `more` (rows, columns) too. InputError when the shapes differ.")
      .def_readwrite("exposure_s", &Frame::exposure_s)
      .def_readwrite("monitor", &Frame::monitor)
      .def_readwrite("exposures", &Frame::exposures)
      .def_readwrite("metadata", &Frame::metadata);

  py::class_<FrameFile>(m, "FrameFile", "A file of frames, opened but not read.")
      .def_property_readonly("path", &FrameFile::path)
      .def_property_readonly("format", &FrameFile::format)
      .def_property_readonly("dataset", &FrameFile::dataset)
      .def_property_readonly("stored_type", &FrameFile::stored_type)
      .def_property_readonly("filters", &FrameFile::filters)
      .def_property_readonly("count", &FrameFile::count)
      .def_property_readonly("rows", &FrameFile::rows)
      .def_property_readonly("columns", &FrameFile::columns)
      .def_property_readonly("metadata", [](const FrameFile& f) { return f.metadata(); })
      .def_property_readonly("exposures_s", [](const FrameFile& f) { return array_or_none(f.exposures_s()); })
      .def_property_readonly("monitors", [](const FrameFile& f) { return array_or_none(f.monitors()); })
      .def("__len__", &FrameFile::count)
      .def_property_readonly("saturation_value", [](const FrameFile& f) { return f.options().saturation_value; })
      .def_property_readonly("exposure_s", [](const FrameFile& f) { return f.options().exposure_s; })
      .def("add_note", &FrameFile::add_note, py::arg("words"))
      .def("read", &FrameFile::read, py::arg("index"), no_gil())
      .def("read_numbers", &read_numbers, py::arg("index"), py::arg("out") = py::none())
      .def("read_sum", &FrameFile::read_sum, py::arg("indices") = std::vector<Index>{}, no_gil());

  m.def("open_frames", &open, py::arg("path"), py::kw_only(), py::arg("dataset") = py::none(),
        py::arg("saturation_value") = py::none(), py::arg("exposure_s") = py::none(), no_gil());
  m.def("given_frames", &given, py::arg("path"), py::kw_only(), py::arg("format"), py::arg("stored_type"),
        py::arg("count"), py::arg("rows"), py::arg("columns"), py::arg("fetch"), py::arg("metadata"),
        py::arg("exposures_s"), py::arg("monitors"), py::arg("masked"), py::arg("saturation_value"),
        py::arg("exposure_s"));
  m.def("sum_frames", &sum_frames, py::arg("frames"), no_gil());
  m.def("read_mask", &read_mask, py::arg("path"), py::arg("rows"), py::arg("columns"), no_gil());
  m.def("unite", &unite, py::arg("a"), py::arg("b"));
  m.def("find_defects", &find_defects, py::arg("counts"), py::arg("masked"), py::kw_only(),
        py::arg("false_alarm") = 1e-9, py::arg("radius") = 2, no_gil());
}
