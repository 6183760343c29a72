// SPDX-License-Identifier: GPL-3.0-or-later
/// Batches against each other: two one-sided tests, scatter between samples, verdicts.
#pragma once

#include "sievelight/compare/batch_errors.hpp"
#include "sievelight/compare/batches.hpp"
#include "sievelight/compare/distribution_distance.hpp"
#include "sievelight/compare/equivalence.hpp"
#include "sievelight/compare/filling.hpp"
#include "sievelight/compare/frame_difference.hpp"
#include "sievelight/compare/sequential.hpp"
#include "sievelight/compare/series.hpp"
#include "sievelight/compare/sizing.hpp"
#include "sievelight/compare/student.hpp"
#include "sievelight/compare/wasserstein.hpp"
