// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

void bind_distribution(py::module_&) {}
