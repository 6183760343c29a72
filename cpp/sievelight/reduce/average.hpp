// SPDX-License-Identifier: GPL-3.0-or-later
/// From frames to the intensity of bins.
/// S = sum(N - D t/t_D) / sum(h),  Var S = [sum Var N + (t/t_D)^2 sum N_D] / (sum h)^2,  h = t Phi DeltaOmega P A eps
/// eta. Without dark this is the maximum-likelihood estimate of a flat intensity inside the bin; it is unbiased at any
/// count, which a mean weighted by 1/N is not. q of a bin = sum(h q) / sum(h). Own counts are private; the dark's
/// counts are the pointwise cause "dark counts: <name>", the flat field's "flat field: <name>"; a monitor's, exposure's
/// or flux's uncertainty is a coherent cause, as is that of the dead time and of every parameter in Corrections. Start
/// at average(); Averager serves many frames of one geometry. Source: Poisson likelihood, derived; corrections as in
/// corrections.hpp.
#pragma once

#include "sievelight/curve/curve.hpp"
#include "sievelight/frames/frame.hpp"
#include "sievelight/frames/open.hpp"
#include "sievelight/geometry/pixel_map.hpp"
#include "sievelight/reduce/bin_sums.hpp"
#include "sievelight/reduce/bins.hpp"
#include "sievelight/reduce/blur.hpp"
#include "sievelight/reduce/corrections.hpp"
#include "sievelight/reduce/sample_shape.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

/// What stays the same for every frame of a geometry.
struct AverageOptions {
  Corrections corrections = {};
  std::vector<Sector> sectors = {};  // empty = all azimuths
  std::optional<Blur> blur = {};     // gives the curve its q resolution
};

enum class NormaliseBy { exposure, monitor };

/// What belongs to one measurement.
struct ExposureOptions {
  std::string name = "measurement";  // stands in messages and in the ids of causes
  const Frame* dark = nullptr;       // its rate is scaled by the exposure
  std::string dark_name = "dark";
  NormaliseBy normalise_by = NormaliseBy::exposure;
  double normalise_relative_u = 0.0;  // of exposure or monitor: coherent cause "exposure: <name>" or "monitor: <name>"
  std::optional<double> flux_per_s = {};  // photons/s at the sample; absent = relative
  double flux_relative_u = 0.0;           // coherent cause "flux"
  double few_counts = 10.0;  // below this sum of counts Var = sum N + 1: sum N alone covers too rarely (tests count it)
  bool check_scatter = true;  // scatter_ratio
};

struct Averaged {
  std::string name;
  Curve curve;                      // (n) S, relative unit; only bins that hold pixels
  Eigen::VectorXi bin;              // (n) which bin of the edges each point is
  Eigen::VectorXd counts;           // (n) sum of the recorded counts
  Eigen::VectorXd dark_counts;      // (n) share of the dark in them
  Eigen::VectorXi pixels;           // (n) pixels used
  Eigen::VectorXd normalisation;    // (n) sum of h
  Eigen::VectorXd scatter_ratio;    // (n) scatter of the pixels of a bin / what their counts allow, 1 expected; empty
                                    // when not checked, NaN in bins of fewer than two pixels or no counts
  std::vector<int> empty_bins;      // bins of the edges without a usable pixel
  std::vector<int> few_count_bins;  // bins whose variance is sum N + 1
  std::vector<StepEffect> steps;
  std::vector<std::string> notes;
  Eigen::MatrixXd azimuth_share;       // (n, azimuth_parts) share of a bin's weight by azimuth, for AngleFactors
  double exposure_s = 0.0;             // summed; 0 when unknown
  std::optional<double> monitor = {};  // summed
};

/// One exposure as its numbers stand in memory: nothing is copied or converted before it is averaged.
struct StoredExposure {
  StoredCounts counts;
  Eigen::Index rows = 0, columns = 0;
  const Mask* masked = nullptr;  // (rows, columns) or null
  double exposure_s = std::numeric_limits<double>::quiet_NaN();
  std::optional<double> monitor = {};
  FrameMetadata metadata = {};
};

/// Bins and normalisations of one geometry, mask and set of corrections; average() then touches each pixel once.
class Averager {
 public:
  /// InputError as bin_table() and normalisation().
  Averager(const PixelMap& map, const Mask& masked, const Eigen::VectorXd& edges_per_nm,
           const AverageOptions& options = {});

  /// One or more exposures of one measurement: counts are summed and exposures (or monitors) are summed; a pixel masked
  /// in any frame is left out of all, because leaving out only its bright moments would bias it.
  /// InputError: no frame, wrong size, no or negative exposure or monitor, a sum of exposures where the dead time has
  /// to be corrected, everything masked. DataError: an unmasked pixel with negative or not finite counts.
  Averaged average(const std::vector<const Frame*>& frames, const ExposureOptions& options = {}) const;

  /// One exposure; what its numbers' type says is no count (count_rules.hpp) is left out, with a note.
  Averaged average_stored(const StoredExposure& exposure, const ExposureOptions& options = {}) const;

  /// Each of the exposures listed (empty = all) as a measurement of its own, named "<name>-<index>". Reading, decoding
  /// and summing go on at once on all cores, and no whole frame is kept; the numbers are those of average() bit for
  /// bit. InputError as average() and FrameFile::read(); DataError when an exposure cannot be read.
  std::vector<Averaged> average_each(const FrameFile& file, const std::vector<Eigen::Index>& indices = {},
                                     const ExposureOptions& options = {}) const;

  const BinTable& table() const { return table_; }

 private:
  struct Measured;  // sums and amounts of one measurement
  Measured begin(const ExposureOptions& options) const;
  void add_amount(Measured& measured, double exposure_s, const std::optional<double>& monitor, Eigen::Index exposures,
                  const FrameMetadata& metadata) const;
  PixelInputs inputs(const Measured& measured, const Mask& skip) const;
  void add_sums(Measured& measured, const BinSums& sums, double exposure_s) const;
  Averaged finish(const Measured& measured) const;

  AverageOptions options_;
  BinTable table_;
  Slots slots_;                        // table_.index for the pass over the pixels
  Eigen::ArrayXf inverse_weight_;      // (pixels) 1/h
  Image weight_;                       // (rows, columns) h without exposure and flux
  Eigen::ArrayXf q_per_nm_;            // (pixels) to say how far a mask inside a frame moves the mean q
  Eigen::VectorXd weight_sum_;         // (bins)
  Eigen::VectorXd weighted_q_;         // (bins) sum(h q)/sum(h) over the table's pixels
  Eigen::VectorXd resolution_per_nm_;  // (bins) or empty
  Eigen::VectorXd flat_u_;             // (bins) relative u from the flat field, or empty
  std::vector<StepEffect> effects_;    // flat field ... polarisation
  std::vector<BinCause> causes_;       // of their parameters
  Eigen::MatrixXd azimuth_share_;      // (bins, azimuth_parts)
  Eigen::Index unused_pixels_ = 0;
  std::array<Eigen::Index, 3> report_bins_{};
};

/// One measurement, without keeping the tables: Averager(...).average(...).
Averaged average(const std::vector<const Frame*>& frames, const PixelMap& map, const Mask& masked,
                 const Eigen::VectorXd& edges_per_nm, const AverageOptions& options = {},
                 const ExposureOptions& exposure = {});

}  // namespace sievelight
