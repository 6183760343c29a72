// SPDX-License-Identifier: GPL-3.0-or-later
/// Umbrella of `curve`: the curve with its causes of error, arithmetic, influence on summaries, merging, files.
#pragma once
#include "sievelight/curve/arithmetic.hpp"
#include "sievelight/curve/assumed_u.hpp"
#include "sievelight/curve/cansas_xml.hpp"
#include "sievelight/curve/csv.hpp"
#include "sievelight/curve/curve.hpp"
#include "sievelight/curve/influence.hpp"
#include "sievelight/curve/merge.hpp"
#include "sievelight/curve/nxcansas_io.hpp"
#include "sievelight/curve/read_curves.hpp"
#include "sievelight/curve/shared_points.hpp"
#include "sievelight/curve/text_io.hpp"
