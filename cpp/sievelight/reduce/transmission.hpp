// SPDX-License-Identifier: GPL-3.0-or-later
/// Transmission of everything in the beam, relative to the empty beam, with its causes of error.
/// It depends on how much of the broadened beam the detector of the transmission accepts: a monitor with a wide window
/// sees absorption only, a small radius around the direct beam sees absorption and scattering out of it. The result
/// says which it is. Own part: coherent cause "transmission: <name>". What the empty beam contributes is common to all
/// that are compared with it and has the id "empty beam: <empty name>". Start at given_transmission(),
/// transmission_from_monitors() or transmission_from_frames().
#pragma once

#include "sievelight/curve/arithmetic.hpp"
#include "sievelight/frames/frame.hpp"
#include "sievelight/reduce/dead_time.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

struct Transmission {
  std::string name;  // of the sample or background
  Factor factor;
  double u = 0.0;      // total standard uncertainty
  std::string method;  // how it was found, and what counts as transmitted
  std::vector<std::string> notes;
};

/// InputError when T is not above zero, or above 1 by more than three of its standard uncertainties (value, u and name
/// in the message).
void check_transmission(const Transmission& transmission);

/// A number from the measurement table.
Transmission given_transmission(const std::string& name, double value, double u = 0.0);

/// Reading of a monitor with its standard uncertainty.
struct Reading {
  double value = 0.0;
  double u = 0.0;
};

/// T = (transmitted / incident) / (transmitted / incident of the empty beam).
Transmission transmission_from_monitors(const std::string& name, Reading incident, Reading transmitted,
                                        const std::string& empty_name, Reading empty_incident,
                                        Reading empty_transmitted);

struct DirectBeamOptions {
  double beam_center_x_px = 0.0, beam_center_y_px = 0.0;
  double radius_px = 0.0;                  // acceptance around the centre
  std::optional<DeadTime> dead_time = {};  // single exposures only
  double dark_per_s = 0.0;                 // counts a pixel and second without beam
  Reading attenuator{1.0, 0.0};            // transmission of an attenuator in the sample's exposure
  Reading empty_attenuator{1.0, 0.0};      // and in the empty beam's
  /// true: the same attenuator stands in both exposures, so it cancels whatever its transmission.
  bool same_attenuator = true;
  double cos_incidence = 1.0;  // between beam and detector normal; matters for an absolute scale only
};

/// Counts per second inside the radius, dark taken off.
struct BeamRate {
  double per_s = 0.0, u_per_s = 0.0;
  Eigen::Index pixels = 0;
};
/// InputError: no exposure, a sum of exposures with dead time, radius without a pixel, masked (saturated) pixels inside
/// it, no counts.
BeamRate beam_rate(const Frame& frame, const std::string& name, const DirectBeamOptions& options);

/// T = rate inside the radius through the sample / rate without it; Poisson counts. Exposures through a
/// semi-transparent beamstop serve as they are. InputError: sizes, and as beam_rate().
Transmission transmission_from_frames(const std::string& name, const Frame& sample, const std::string& empty_name,
                                      const Frame& empty, const DirectBeamOptions& options);

}  // namespace sievelight
