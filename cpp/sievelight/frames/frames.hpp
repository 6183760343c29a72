// SPDX-License-Identifier: GPL-3.0-or-later
/// Umbrella of `frames`: detector frames from files, what the files say about them, and masks.
#pragma once
#include "sievelight/frames/beamstop_shadow.hpp"
#include "sievelight/frames/frame.hpp"
#include "sievelight/frames/given_frames.hpp"
#include "sievelight/frames/mask.hpp"
#include "sievelight/frames/mask_shapes.hpp"
#include "sievelight/frames/open.hpp"
#include "sievelight/frames/sum.hpp"
