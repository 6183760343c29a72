// SPDX-License-Identifier: GPL-3.0-or-later
/// What a curve says without a model of sizes: Guinier's radius, Porod's constant, the invariant, the inner surface,
/// and peaks of order with the pores behind them.
#pragma once

#include "sievelight/analysis/anisotropy.hpp"
#include "sievelight/analysis/curve_estimate.hpp"
#include "sievelight/analysis/curve_peaks.hpp"
#include "sievelight/analysis/domain_size.hpp"
#include "sievelight/analysis/guinier.hpp"
#include "sievelight/analysis/guinier_window.hpp"
#include "sievelight/analysis/indexing.hpp"
#include "sievelight/analysis/invariant.hpp"
#include "sievelight/analysis/lattice.hpp"
#include "sievelight/analysis/order_parameter.hpp"
#include "sievelight/analysis/ordered_pores.hpp"
#include "sievelight/analysis/oscillation.hpp"
#include "sievelight/analysis/peak_fit.hpp"
#include "sievelight/analysis/peak_profile.hpp"
#include "sievelight/analysis/peak_scan.hpp"
#include "sievelight/analysis/peak_search.hpp"
#include "sievelight/analysis/peak_share.hpp"
#include "sievelight/analysis/porod.hpp"
#include "sievelight/analysis/rice.hpp"
#include "sievelight/analysis/surface.hpp"
#include "sievelight/analysis/weights.hpp"
