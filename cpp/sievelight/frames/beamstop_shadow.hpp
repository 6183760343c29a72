// SPDX-License-Identifier: GPL-3.0-or-later
/// The shadow of the beamstop and of the arm that holds it, found in a frame.
/// 1. The level of each ring about the beam point is the median of its sectors' means, so an arm does not pull it. The
///    stop's edge is the innermost radius where the level rises by `contrast` within `edge_px` and stays up: a
///    diffraction ring falls again behind its crest, a broad maximum rises more slowly.
/// 2. From inside the edge a region grows over connected pixels that are below 1 / contrast of the level expected at
///    their place: inside the edge that of the edge, outside that of the ring in the quarter turn around them. Where
///    counts are low they are taken together over up to 9 x 9 pixels, until 25 are expected.
/// 3. Parts beyond the edge are kept where their outline is sharp (contrast squared over some pixels), as an arm's is
///    and the dark directions of an oriented pattern are not. What the region encloses within the edge belongs to it:
///    the beam seen through a semi-transparent stop.
/// Source: derivation; counts are Poisson. A shadow without such an edge is not found rather than guessed.
#pragma once

#include "sievelight/base/image.hpp"

#include <string>
#include <utility>

namespace sievelight {

struct BeamstopOptions {
  double contrast = 1.5;       // least ratio between the level outside and inside
  double edge_px = 5.0;        // the shadow's edge is no wider
  double max_radius_px = 0.0;  // where an edge is looked for; 0 = a quarter of the frame's longer side
  int margin_px = 1;           // added around the region: the half-shadow
};

struct BeamstopShadow {
  bool found = false;
  Mask mask;                    // (rows, columns) the shadow and what it encloses; all false when none was found
  double edge_radius_px = 0.0;  // of the edge about the beam point
  double shadow_level = 0.0;    // counts per pixel inside the edge
  double surround_level = 0.0;  // counts per pixel just outside
  std::string words;            // what was found, or why nothing was
};

/// `masked` may be empty; beam_center_px is (column, row) and may lie outside of the frame.
/// InputError for unlike shapes, a beam point that is not finite, or impossible options.
BeamstopShadow find_beamstop_shadow(const Image& counts, const Mask& masked, std::pair<double, double> beam_center_px,
                                    const BeamstopOptions& options = {});

}  // namespace sievelight
