// SPDX-License-Identifier: GPL-3.0-or-later
/// The one place where the version stands; CMake, the wheel and the records of a study read it from here.
#pragma once
#define SIEVELIGHT_VERSION "0.1.0"
