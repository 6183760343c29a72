// SPDX-License-Identifier: GPL-3.0-or-later
/// Umbrella of `distribution`: from a curve to a size distribution with bands. Start at invert.hpp.
#pragma once
#include "sievelight/distribution/compress.hpp"
#include "sievelight/distribution/describe.hpp"
#include "sievelight/distribution/diagnose.hpp"
#include "sievelight/distribution/fit_data.hpp"
#include "sievelight/distribution/grid.hpp"
#include "sievelight/distribution/invert.hpp"
#include "sievelight/distribution/kernel.hpp"
#include "sievelight/distribution/log_density.hpp"
#include "sievelight/distribution/noise.hpp"
#include "sievelight/distribution/preview.hpp"
#include "sievelight/distribution/sample.hpp"
#include "sievelight/distribution/shape.hpp"
#include "sievelight/distribution/size_distribution.hpp"
#include "sievelight/distribution/smoothness.hpp"
#include "sievelight/distribution/sphere.hpp"
#include "sievelight/distribution/summary.hpp"
