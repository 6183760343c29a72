// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

void bind_frames(py::module_&) {}
