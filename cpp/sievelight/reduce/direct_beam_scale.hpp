// SPDX-License-Identifier: GPL-3.0-or-later
/// Absolute scale from the attenuated direct beam: the photons at the sample are counted by the same detector.
/// Phi = N / (t a e), N the counts inside a radius, a the attenuator's transmission, e what air, windows and sensor
/// leave of a ray straight on; then k = 1/Phi for curves normalised by exposure, k = M/(N/(a e)) for those by a monitor
/// that read M meanwhile. The flat field's response at the beam is taken as 1. Source: B. R. Pauw et al., J. Appl.
/// Cryst. 50 (2017) 1800 (direct-beam calibration); derived. Safety: a direct-beam exposure goes through the
/// instrument's interlocked procedure, the attenuator checked first.
#pragma once

#include "sievelight/reduce/absolute_scale.hpp"
#include "sievelight/reduce/corrections.hpp"
#include "sievelight/reduce/transmission.hpp"

namespace sievelight {

/// `beam`: one exposure of the empty beam. The attenuator's uncertainty is the cause "attenuator: <name>", the counts'
/// "absolute scale: counts". InputError as transmission_from_frames().
AbsoluteScale scale_from_direct_beam(const std::string& name, const Frame& beam, const DirectBeamOptions& options,
                                     const Corrections& corrections, bool by_monitor = false);

}  // namespace sievelight
