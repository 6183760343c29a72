// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/base/base.hpp"

using namespace sievelight;

namespace {

// Error classes live as long as the interpreter; each carries `.problem` and `.mend` beside its text.
py::handle make_error(py::module_& m, const char* name, PyObject* base) {
  const std::string full = std::string("sievelight.") + name;
  py::object type = py::reinterpret_steal<py::object>(PyErr_NewException(full.c_str(), base, nullptr));
  m.attr(name) = type;
  return type.release();
}

void raise(py::handle type, const Error& error) {
  py::object value = py::reinterpret_borrow<py::object>(type)(error.what());
  value.attr("problem") = error.problem();
  value.attr("mend") = error.mend();
  PyErr_SetObject(type.ptr(), value.ptr());
}

}  // namespace

void bind_base(py::module_& m) {
  static py::handle input_error = make_error(m, "InputError", PyExc_ValueError);
  static py::handle data_error = make_error(m, "DataError", PyExc_OSError);
  static py::handle numerical_error = make_error(m, "NumericalError", PyExc_ArithmeticError);
  py::register_exception_translator([](std::exception_ptr p) {
    try {
      if (p) std::rethrow_exception(p);
    } catch (const InputError& e) {
      raise(input_error, e);
    } catch (const DataError& e) {
      raise(data_error, e);
    } catch (const NumericalError& e) {
      raise(numerical_error, e);
    }
  });
  m.attr("__version__") = SIEVELIGHT_VERSION;
  m.def("thread_count", &thread_count, "Threads used by default (SIEVELIGHT_THREADS or the machine's cores).");
  m.def(
      "write_whole",
      [](const std::vector<std::pair<std::string, py::bytes>>& files) {
        const std::vector<std::pair<std::string, std::string>> given(files.begin(), files.end());
        const py::gil_scoped_release released;
        write_whole(given);
      },
      py::arg("files"));
  m.def("make_folders", &make_folders, py::arg("folder"), no_gil());
  m.def("flush_folder", &flush_folder, py::arg("folder"), no_gil());
  m.def("remove_leftovers", &remove_leftovers, py::arg("folder"), no_gil());
  m.def("_unit_factor", [](const std::string& unit, const std::string& to) {
    static const std::map<std::string, Quantity> known{{"mm", Quantity::length_mm},
                                                       {"nm", Quantity::length_nm},
                                                       {"1/nm", Quantity::inverse_length_per_nm},
                                                       {"s", Quantity::time_s},
                                                       {"deg", Quantity::angle_deg},
                                                       {"keV", Quantity::energy_keV},
                                                       {"1/cm", Quantity::intensity_per_cm}};
    return unit_factor(unit, known.at(to));
  });
  py::class_<Material>(m, "Material", "What stands in the beam: its elements, their shares by mass, its density.")
      .def_readonly("name", &Material::name)
      .def_readonly("formula", &Material::formula)
      .def_readonly("elements", &Material::elements)
      .def_readonly("mass_share", &Material::mass_share)
      .def_readonly("density_g_per_cm3", &Material::density_g_per_cm3);
  m.def("material", &material, py::arg("name_or_formula"));
  py::class_<ScatteringLengthDensity>(m, "ScatteringLengthDensity", "Real and imaginary part, 1/cm2.")
      .def_readonly("real_per_cm2", &ScatteringLengthDensity::real_per_cm2)
      .def_readonly("imaginary_per_cm2", &ScatteringLengthDensity::imaginary_per_cm2);
  m.def("scattering_length_density", &scattering_length_density, py::arg("material"), py::arg("wavelength_nm"),
        py::arg("density_g_per_cm3") = 0.0);
  m.def("mass_attenuation_cm2_per_g", &mass_attenuation_cm2_per_g, py::arg("material"), py::arg("wavelength_nm"));
  m.def("attenuation_per_cm", &attenuation_per_cm, py::arg("material"), py::arg("wavelength_nm"),
        py::arg("density_g_per_cm3") = 0.0);
  py::class_<Fluorescence>(m, "Fluorescence", "An element that the beam excites.")
      .def_readonly("element", &Fluorescence::element)
      .def_readonly("edge_keV", &Fluorescence::edge_keV)
      .def_readonly("line_keV", &Fluorescence::line_keV)
      .def_readonly("share", &Fluorescence::share);
  m.def("fluorescence", &fluorescence, py::arg("material"), py::arg("wavelength_nm"), py::arg("least_share") = 0.01);
  m.attr("ATTENUATION_RELATIVE_U") = attenuation_relative_u;
  py::class_<Range>(m, "Range")
      .def(py::init([](double low, double high) {
             return Range{low, high};
           }),
           py::arg("low"), py::arg("high"))
      .def_readwrite("low", &Range::low)
      .def_readwrite("high", &Range::high)
      .def(pickle(&Range::low, &Range::high))
      .def("__iter__", [](const Range& r) { return py::iter(py::make_tuple(r.low, r.high)); })
      .def("__repr__", [](const Range& r) { return py::str("Range({}, {})").format(r.low, r.high); });
  py::class_<Estimate>(m, "Estimate", "A value with its standard uncertainty and its 68 % and 95 % intervals.")
      .def(py::init<>())
      .def_static("normal", &Estimate::normal, py::arg("value"), py::arg("u"),
                  "An estimate with a normal error: bands are value ± u and value ± 1.96 u.")
      .def(pickle(&Estimate::value, &Estimate::u, &Estimate::band68, &Estimate::band95))
      .def_readwrite("value", &Estimate::value)
      .def_readwrite("u", &Estimate::u)
      .def_readwrite("band68", &Estimate::band68)
      .def_readwrite("band95", &Estimate::band95)
      .def("__repr__", [](const Estimate& e) {
        return py::str("Estimate({:.6g} ± {:.2g}, 95 %: {:.6g} .. {:.6g})")
            .format(e.value, e.u, e.band95.low, e.band95.high);
      });
}
