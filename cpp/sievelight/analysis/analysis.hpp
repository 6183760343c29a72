// SPDX-License-Identifier: GPL-3.0-or-later
/// What a curve says without a model of sizes: Guinier's radius, Porod's constant, the invariant, the inner surface.
#pragma once

#include "sievelight/analysis/anisotropy.hpp"
#include "sievelight/analysis/contrast_series.hpp"
#include "sievelight/analysis/correlation.hpp"
#include "sievelight/analysis/curve_estimate.hpp"
#include "sievelight/analysis/curve_integral.hpp"
#include "sievelight/analysis/guinier.hpp"
#include "sievelight/analysis/guinier_window.hpp"
#include "sievelight/analysis/invariant.hpp"
#include "sievelight/analysis/order_parameter.hpp"
#include "sievelight/analysis/porod.hpp"
#include "sievelight/analysis/random_two_phase.hpp"
#include "sievelight/analysis/residual_tests.hpp"
#include "sievelight/analysis/rice.hpp"
#include "sievelight/analysis/surface.hpp"
#include "sievelight/analysis/tail_comparison.hpp"
#include "sievelight/analysis/tail_law.hpp"
#include "sievelight/analysis/weights.hpp"
