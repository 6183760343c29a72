// SPDX-License-Identifier: GPL-3.0-or-later
/// Umbrella of `geometry`: where the detector stands, what each pixel sees, and how to find out from a calibrant's
/// rings.
#pragma once
#include "sievelight/geometry/beam_center.hpp"
#include "sievelight/geometry/beam_spot.hpp"
#include "sievelight/geometry/calibrant.hpp"
#include "sievelight/geometry/calibrate.hpp"
#include "sievelight/geometry/calibrate_from_nothing.hpp"
#include "sievelight/geometry/calibrate_strip.hpp"
#include "sievelight/geometry/components.hpp"
#include "sievelight/geometry/crystal_spots.hpp"
#include "sievelight/geometry/detector.hpp"
#include "sievelight/geometry/mask_q.hpp"
#include "sievelight/geometry/pixel_map.hpp"
#include "sievelight/geometry/recognise.hpp"
#include "sievelight/geometry/sample_plane.hpp"
