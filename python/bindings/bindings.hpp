// SPDX-License-Identifier: GPL-3.0-or-later
/// One function a core folder. A binding names, documents and converts; it never computes.
#pragma once

#include <pybind11/eigen.h>
#include <pybind11/functional.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <string>
#include <type_traits>
#include <utility>
#include <vector>

#include "sievelight/base/error.hpp"
#include "sievelight/distribution/size_family.hpp"

namespace py = pybind11;
/// Long work runs without Python's lock.
using no_gil = py::call_guard<py::gil_scoped_release>;

/// The member of an enumeration that a word names; InputError lists the words.
template <typename Enum>
Enum word(const std::string& text, const char* what, const std::vector<std::pair<const char*, Enum>>& known) {
  std::string all;
  for (const auto& [label, value] : known) {
    if (text == label) return value;
    all += (all.empty() ? "'" : ", '") + std::string(label) + "'";
  }
  throw sievelight::InputError("'" + text + "' is not a " + what + ".", "Use one of " + all + ".");
}

/// State for pickling: every member named, in turn; an enumeration as its number.
template <typename M>
py::object pack(const M& member) {
  if constexpr (std::is_enum_v<M>)
    return py::int_(static_cast<int>(member));
  else
    return py::cast(member);
}
template <typename M>
void unpack(const py::handle& from, M& member) {
  if constexpr (std::is_enum_v<M>)
    member = static_cast<M>(from.cast<int>());
  else
    member = from.cast<M>();
}
template <typename T, typename... M>
auto pickle(M T::*... member) {
  return py::pickle([member...](const T& value) { return py::make_tuple(pack(value.*member)...); },
                    [member...](const py::tuple& state) {
                      T value;
                      std::size_t i = 0;
                      (unpack(state[i++], value.*member), ...);
                      return value;
                    });
}

/// The family of a name of size_families(); out_of_range for another, which the Python call refuses before.
sievelight::SizeFamily family_called(const std::string& wanted);

void bind_base(py::module_& m);
void bind_curve(py::module_& m);
void bind_curve_files(py::module_& m);
void bind_slit(py::module_& m);
void bind_frames(py::module_& m);
void bind_geometry(py::module_& m);
void bind_calibration(py::module_& m);
void bind_masks(py::module_& m);
void bind_reduce(py::module_& m);
void bind_analysis(py::module_& m);
void bind_peaks(py::module_& m);
void bind_two_phase(py::module_& m);
void bind_averages(py::module_& m);
void bind_shapes(py::module_& m);
void bind_distribution(py::module_& m);
void bind_parametric(py::module_& m);
void bind_series(py::module_& m);
void bind_compare(py::module_& m);
void bind_plan(py::module_& m);
