// SPDX-License-Identifier: GPL-3.0-or-later
/// The whole story, in the order in which data flow.
#pragma once
// clang-format off
#include "sievelight/base/base.hpp"
#include "sievelight/curve/curves.hpp"
#include "sievelight/frames/frames.hpp"
#include "sievelight/geometry/geometry.hpp"
#include "sievelight/reduce/reduce.hpp"
#include "sievelight/analysis/analysis.hpp"
#include "sievelight/distribution/distribution.hpp"
#include "sievelight/compare/compare.hpp"
#include "sievelight/plan/plan.hpp"
