// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

void bind_geometry(py::module_&) {}
