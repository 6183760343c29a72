// SPDX-License-Identifier: GPL-3.0-or-later
/// One function a core folder. A binding names, documents and converts; it never computes.
#pragma once

#include <pybind11/eigen.h>
#include <pybind11/functional.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

namespace py = pybind11;
/// Long work runs without Python's lock.
using no_gil = py::call_guard<py::gil_scoped_release>;

void bind_base(py::module_& m);
void bind_curve(py::module_& m);
void bind_frames(py::module_& m);
void bind_geometry(py::module_& m);
void bind_reduce(py::module_& m);
void bind_analysis(py::module_& m);
void bind_distribution(py::module_& m);
void bind_compare(py::module_& m);
