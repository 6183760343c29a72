// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/distribution/distribution.hpp"

using namespace sievelight;

void bind_shapes(py::module_& m) {
  py::class_<Shape>(m, "Shape", "How strongly one particle of a given size scatters.")
      .def_readonly("name", &Shape::name)
      .def_readonly("size", &Shape::size)
      .def_readonly("surface_per_size", &Shape::surface_per_size)
      .def_readonly("surface_per_nm", &Shape::surface_per_nm)
      .def("form_factor", &form_factors, py::arg("q_per_nm"), py::arg("size_nm"), no_gil(),
           "Orientation-averaged squared amplitude over (contrast x volume)^2 of each size (rising) at one q.")
      .def(
          "volume_nm3", [](const Shape& shape, double size_nm) { return shape.volume_nm3(size_nm); },
          py::arg("size_nm"))
      .def("__repr__", [](const Shape& shape) { return "<Shape: " + shape.name + ", size: " + shape.size + ">"; });
  m.def("sphere", &sphere);
  m.def("core_shell_sphere", &core_shell_sphere, py::arg("shell_ratio"), py::arg("shell_contrast_ratio"));
  m.def("core_shell_sphere_of_thickness", &core_shell_sphere_of_thickness, py::arg("shell_nm"),
        py::arg("shell_contrast_ratio"));
  m.def("spheroid", &spheroid, py::arg("axis_ratio"));
  m.def("cylinder", &cylinder, py::arg("length_ratio"));
  m.def("cylinder_of_length", &cylinder_of_length, py::arg("length_nm"));
  m.def("lamella", &lamella, py::arg("width_nm"));
  py::class_<HardSpheres>(m, "HardSpheres", "Interference between hard spheres, each size among its own kind.")
      .def(py::init([](double volume_fraction, double radius_factor) {
             const HardSpheres out{volume_fraction, radius_factor};
             check(out);
             return out;
           }),
           py::arg("volume_fraction"), py::kw_only(), py::arg("radius_factor") = 1.0)
      .def_readonly("volume_fraction", &HardSpheres::volume_fraction)
      .def_readonly("radius_factor", &HardSpheres::radius_factor);
  m.def("hard_sphere_structure_factor", py::vectorize(&hard_sphere_structure_factor), py::arg("q_times_diameter"),
        py::arg("volume_fraction"), "S of hard spheres after Percus and Yevick.");
  py::class_<KernelOptions>(m, "KernelOptions")
      .def(py::init<>())
      .def_readwrite("shape", &KernelOptions::shape)
      .def_readwrite("interaction", &KernelOptions::interaction)
      .def_readwrite("slit", &KernelOptions::slit)
      .def_readwrite("power_exponent", &KernelOptions::power_exponent);
}
