// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/calibrate_from_nothing.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/geometry/unusable_pixels.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

namespace sievelight {
namespace {

constexpr double least_gain = 5.0;    // the rings against peaks anywhere: odds of 150 to 1
constexpr double least_margin = 3.0;  // one distance against the next: odds of 20 to 1

void check(const RingKnowledge& known) {
  const auto positive = [](double v) { return std::isfinite(v) && v > 0.0; };
  if (!positive(known.wavelength_nm) || !positive(known.pixel_size_x_mm) || !positive(known.pixel_size_y_mm))
    throw InputError(fmt::format("ring calibration from nothing: wavelength {} nm, pixel size {} by {} mm",
                                 known.wavelength_nm, known.pixel_size_x_mm, known.pixel_size_y_mm),
                     "Wavelength and pixel size must be known; both are positive lengths.");
  if (known.distance_mm && !positive(*known.distance_mm))
    throw InputError(fmt::format("ring calibration from nothing: distance_mm is {}", *known.distance_mm),
                     "Give a positive length in mm, or leave the distance out.");
  if (known.beam_center_px &&
      !(std::isfinite(known.beam_center_px->first) && std::isfinite(known.beam_center_px->second)))
    throw InputError("ring calibration from nothing: the beam point given is not finite",
                     "Give column and row in pixels, or leave the beam point out.");
}

std::string list_peaks(const std::vector<LinePeak>& peaks) {
  std::vector<std::string> words;
  for (const LinePeak& p : peaks) words.push_back(fmt::format("{:.1f}", p.position_px));
  if (words.size() > 10) {
    words.resize(10);
    words.push_back("...");
  }
  return fmt::format("{}", fmt::join(words, ", "));
}

/// Humps as wide as a third of the room between them are a sample's, not a powder's rings.
void refuse_humps(const RingGuess& guess) {
  std::vector<double> share;
  for (std::size_t i = 0; i < guess.peaks.size(); ++i) {
    if (guess.explanations.empty() || guess.explanations[0].order[i] == 0) continue;
    double room = guess.peaks[i].position_px;
    if (i > 0) room = std::min(room, guess.peaks[i].position_px - guess.peaks[i - 1].position_px);
    if (i + 1 < guess.peaks.size()) room = std::min(room, guess.peaks[i + 1].position_px - guess.peaks[i].position_px);
    share.push_back(guess.peaks[i].fwhm_px / room);
  }
  std::ranges::sort(share);
  if (!share.empty() && share[share.size() / 2] > 0.4)
    throw DataError(fmt::format("ring calibration: the maxima at radii of {} px are humps, half as wide as the room "
                                "between them or more: no powder rings",
                                list_peaks(guess.peaks)),
                    "Check that this frame shows the calibrant and not a sample; with very broad rings give a start.");
}

void refuse_what_is_no_calibrant(const RingGuess& guess, const RingKnowledge& known, const Calibrant& calibrant) {
  if (guess.peaks.empty())
    throw DataError("ring calibration: no sharp ring stands out about any centre, inside the frame or beyond it",
                    "Check that this frame shows a calibrant and not a sample, and that it is exposed long enough; "
                    "with faint rings "
                    "give distance and beam centre to start from.");
  if (guess.other_gain >
      std::max(least_gain, (guess.explanations.empty() ? 0.0 : guess.explanations[0].log_gain) + 1.0))
    throw DataError(
        fmt::format("ring calibration: the rings at radii of {} px about ({:.1f}, {:.1f}) stand as those of "
                    "{}, not as those of {}",
                    list_peaks(guess.peaks), guess.center_x_px, guess.center_y_px, guess.other, calibrant.name),
        "Check that this frame shows the calibrant and not a sample.");
  refuse_humps(guess);
  const RingExplanation best = guess.explanations.empty() ? RingExplanation{} : guess.explanations[0];
  if ((guess.peaks.size() == 1 || best.matched == 1) && !known.distance_mm)
    throw DataError(fmt::format("ring calibration: only one ring ({:.1f} px about ({:.1f}, {:.1f})) is in view: any "
                                "distance makes it some ring of {}",
                                guess.peaks[0].position_px, guess.center_x_px, guess.center_y_px, calibrant.name),
                    "Give the distance, known within 20 %, or move the detector so that two rings are in view.");
  // A known distance is evidence of its own.
  if (best.log_gain < (known.distance_mm ? 0.3 * least_gain : least_gain))
    throw DataError(
        fmt::format(
            "ring calibration: no distance makes the rings at radii of {} px about ({:.1f}, {:.1f}) those of {}",
            list_peaks(guess.peaks), guess.center_x_px, guess.center_y_px, calibrant.name),
        fmt::format("Check that this frame shows {} and not a sample, the wavelength ({} nm) and the pixel size.",
                    calibrant.name, known.wavelength_nm));
}

}  // namespace

RingCalibration calibrate_rings(const Image& counts, const Mask& masked, const RingKnowledge& known,
                                const Calibrant& calibrant, const RingOptions& options) {
  check(known);
  const Eigen::VectorXd two_theta = ring_two_theta_rad(calibrant.d_nm, known.wavelength_nm, options.max_order);
  const Mask unusable = unusable_pixels(counts, masked);
  const RingGuess guess = guess_rings(counts, unusable, known, two_theta);
  refuse_what_is_no_calibrant(guess, known, calibrant);

  const auto refined = [&](const RingExplanation& e) {
    RingOptions close = options;
    close.search_relative = std::min(options.search_relative, 0.03);
    return calibrate_rings(counts, masked, e.geometry, calibrant, close);
  };
  const RingExplanation& best = guess.explanations[0];
  if (guess.explanations.size() < 2 || best.log_gain - guess.explanations[1].log_gain > least_margin)
    return refined(best);
  // Two distances: the fit itself may tell them apart.
  std::vector<RingCalibration> fits;
  std::optional<DataError> refusal;
  for (std::size_t i = 0; i < 2; ++i) try {
      fits.push_back(refined(guess.explanations[i]));
    } catch (const DataError& error) {
      if (!refusal) refusal = error;
    }
  if (fits.empty()) throw DataError(*refusal);
  if (fits.size() == 1) return fits[0];
  const auto worse = [](const RingCalibration& a, const RingCalibration& b) {
    return a.residual_px > 2.0 * b.residual_px && a.rings.size() <= b.rings.size();
  };
  if (worse(fits[1], fits[0])) return fits[0];
  if (worse(fits[0], fits[1])) return fits[1];
  throw DataError(
      fmt::format(
          "ring calibration: two distances explain the rings at radii of {} px equally well: {:.1f} mm ({} rings) "
          "and {:.1f} mm ({} rings)",
          list_peaks(guess.peaks), fits[0].geometry.distance_mm, guess.explanations[0].matched,
          fits[1].geometry.distance_mm, guess.explanations[1].matched),
      "Give the distance, known within 20 %, or bring more rings into view.");
}

}  // namespace sievelight
