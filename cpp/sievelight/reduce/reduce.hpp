// SPDX-License-Identifier: GPL-3.0-or-later
/// Umbrella of `reduce`, in the order of the work: bins and corrections, averages, transmission, background, absolute
/// scale, and the calibration's share of the error.
#pragma once
#include "sievelight/reduce/absolute_scale.hpp"
#include "sievelight/reduce/area_bins.hpp"
#include "sievelight/reduce/average.hpp"
#include "sievelight/reduce/azimuth.hpp"
#include "sievelight/reduce/azimuth_map.hpp"
#include "sievelight/reduce/background.hpp"
#include "sievelight/reduce/background_factor.hpp"
#include "sievelight/reduce/bin_sums.hpp"
#include "sievelight/reduce/bins.hpp"
#include "sievelight/reduce/blur.hpp"
<<<<<<< HEAD
#include "sievelight/reduce/capillary.hpp"
=======
#include "sievelight/reduce/cells.hpp"
>>>>>>> averages
#include "sievelight/reduce/common_bins.hpp"
#include "sievelight/reduce/corrections.hpp"
#include "sievelight/reduce/dead_time.hpp"
#include "sievelight/reduce/direct_beam_scale.hpp"
#include "sievelight/reduce/geometry_causes.hpp"
#include "sievelight/reduce/local_fit.hpp"
#include "sievelight/reduce/multiple_scattering.hpp"
#include "sievelight/reduce/plate.hpp"
<<<<<<< HEAD
#include "sievelight/reduce/sample_shape.hpp"
=======
#include "sievelight/reduce/repeat_tests.hpp"
#include "sievelight/reduce/repeats.hpp"
#include "sievelight/reduce/spikes.hpp"
>>>>>>> averages
#include "sievelight/reduce/srm3600.hpp"
#include "sievelight/reduce/transmission.hpp"
#include "sievelight/reduce/water.hpp"
