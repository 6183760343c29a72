// SPDX-License-Identifier: GPL-3.0-or-later
/// Before the measurement: what an exposure will leave open, and how long it must be.
#pragma once

#include "sievelight/plan/counting_rates.hpp"
#include "sievelight/plan/exposure_law.hpp"
#include "sievelight/plan/information.hpp"
