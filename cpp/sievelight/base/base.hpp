// SPDX-License-Identifier: GPL-3.0-or-later
/// Umbrella of `base`: units, errors with a mend, small values and the edges to GSL and HDF5.
#pragma once
#include "sievelight/base/atomic_mass.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/gauss_rule.hpp"
#include "sievelight/base/gsl.hpp"
#include "sievelight/base/hdf5.hpp"
#include "sievelight/base/hdf5_bytes.hpp"
#include "sievelight/base/holm.hpp"
#include "sievelight/base/image.hpp"
#include "sievelight/base/least_squares.hpp"
#include "sievelight/base/material.hpp"
#include "sievelight/base/matrix_vector.hpp"
#include "sievelight/base/parallel.hpp"
#include "sievelight/base/range.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/base/version.hpp"
#include "sievelight/base/write_whole.hpp"
