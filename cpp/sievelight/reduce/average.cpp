// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/average.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/every_cpu.hpp"
#include "sievelight/base/large_pages.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/reduce/measured.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstring>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

void require_frame(const Frame& frame, const Image& like, const std::string& what) {
  if (frame.counts.rows() != like.rows() || frame.counts.cols() != like.cols())
    refuse_shape(what, frame.counts.rows(), frame.counts.cols(), like);
  if (frame.masked.size() != 0 && (frame.masked.rows() != like.rows() || frame.masked.cols() != like.cols()))
    throw InputError(fmt::format("the mask inside {} has {} x {} pixels but its counts have {} x {}.", what,
                                 frame.masked.rows(), frame.masked.cols(), like.rows(), like.cols()),
                     "Give the mask the shape of the counts.");
}

/// What the file's reader noted on the exposure, in brackets.
std::string said_of_exposure(const FrameMetadata& metadata) {
  for (const std::string& note : metadata.notes)
    if (note.find("exposure") != std::string::npos) return fmt::format(" ({})", note);
  return "";
}

double require_exposure(double exposure_s, const FrameMetadata& metadata, const std::string& what) {
  if (std::isnan(exposure_s))
    throw InputError(fmt::format("{} has no exposure{}.", what, said_of_exposure(metadata)),
                     "Give exposure_s in the table or when opening the file, or normalise by the monitor.");
  if (!(exposure_s > 0) || !std::isfinite(exposure_s))
    throw InputError(fmt::format("the exposure of {} is {} s.", what, exposure_s),
                     "Give the exposure in seconds, above zero.");
  return exposure_s;
}

double require_monitor(const std::optional<double>& monitor, const std::string& what) {
  if (!monitor)
    throw InputError(fmt::format("{} has no monitor reading.", what),
                     "Give its monitor, or normalise by the exposure.");
  if (!(*monitor > 0) || !std::isfinite(*monitor))
    throw InputError(fmt::format("the monitor of {} reads {}.", what, *monitor),
                     "A monitor must read above zero; normalise by the exposure if it was not working.");
  return *monitor;
}

Mask masks_of(const std::vector<const Frame*>& frames, const Frame* dark) {
  std::vector<const Mask*> masks;
  for (const Frame* f : frames) masks.push_back(&f->masked);
  return unite_masks(masks, dark);
}

// What is switched off is not there for the pass over the pixels.
AverageOptions without_off(AverageOptions options) {
  Corrections& c = options.corrections;
  if (switched_off(c.off, StepKind::dead_time)) c.dead_time.reset();
  if (switched_off(c.off, StepKind::flat_field)) c.flat_field.reset();
  return options;
}

// Between which two of the azimuth_parts a pixel stands: the lower one and the share of the other.
SIEVELIGHT_EVERY_CPU void azimuth_places(const double* azimuth_rad, Index n, std::int32_t* part, double* beyond) {
  constexpr auto parts = static_cast<double>(azimuth_parts);
  for (Index i = 0; i < n; ++i) {
    // In [1/2, parts + 1/2], from the middle of the last part, which is one before the first, on.
    const double place = (azimuth_rad[i] + pi) * (parts / (2 * pi)) + 0.5;
    const auto below = static_cast<std::int32_t>(place);
    part[i] = below;
    beyond[i] = place - static_cast<double>(below);
  }
}

}  // namespace

void refuse_shape(const std::string& what, Index rows, Index columns, const Image& like) {
  throw InputError(fmt::format("{} has {} x {} pixels (rows x columns) but the pixel map has {} x {}.", what, rows,
                               columns, like.rows(), like.cols()),
                   "Make the pixel map for this detector, and use frames of one detector only.");
}

Mask unite_masks(const std::vector<const Mask*>& masks, const Frame* dark) {
  Mask skip;
  const auto unite_with = [&skip](const Mask& m) {
    if (m.size() == 0 || std::memchr(m.data(), 1, static_cast<std::size_t>(m.size())) == nullptr) return;
    if (skip.size() == 0)
      skip = m;
    else
      skip = skip || m;
  };
  for (const Mask* m : masks)
    if (m) unite_with(*m);
  if (dark) {
    unite_with(dark->masked);
    unite_with(!(dark->counts.isFinite() && dark->counts >= 0.0));
  }
  return skip;
}

Averager::Averager(const PixelMap& map, const Mask& masked, const VectorXd& edges, const AverageOptions& options)
    : options_(without_off(options)),
      table_(bin_table(map, usable_mask(map, masked, options_.corrections), edges, options.sectors)),
      slots_(table_),
      q_per_nm_(map.q_per_nm.size()) {
  prefer_large_pages(q_per_nm_);
  const Index bins = table_.pixels.size();
  std::vector<Index> filled;
  for (Index k = 0; k < bins; ++k)
    if (table_.pixels[k] > 0) filled.push_back(k);
  report_bins_ = {filled.front(), filled[filled.size() / 2], filled.back()};
  Normalisation made = normalisation(map, table_, options.corrections, report_bins_);
  weight_ = std::move(made.per_pixel);
  effects_ = std::move(made.effects);
  causes_ = std::move(made.causes);
  inverse_weight_.resize(weight_.size());
  prefer_large_pages(inverse_weight_);

  // Sums over the pixels of a bin: weight, weight q, counts of the flat field, and the weight by azimuth; behind the
  // bins a column for the pixels of none.
  const std::optional<FlatField>& flat_field = options_.corrections.flat_field;
  const bool flat_noise = flat_field && flat_field->relative_u.size() != 0;
  constexpr Index own = 3;
  const double* q = map.binned_by().data();
  const Eigen::MatrixXd sums = sum_blocks(weight_.rows(), weight_.cols(), own + azimuth_parts + 2, bins + 1,
                                          [&](Index begin, Index count, Eigen::MatrixXd& block) {
                                            std::int32_t part[longest_strip];
                                            double beyond[longest_strip];
                                            for_strips(begin, count, [&](Index first, Index n) {
                                              azimuth_places(map.azimuth_rad.data() + first, n, part, beyond);
                                              for (Index i = 0; i < n; ++i) {
                                                const Index pixel = first + i;
                                                const double w = weight_.data()[pixel];
                                                inverse_weight_[pixel] = static_cast<float>(1 / w);
                                                q_per_nm_[pixel] = static_cast<float>(q[pixel]);
                                                const std::int32_t bin = table_.index.data()[pixel];
                                                double* to = block.data() + (bin < 0 ? bins : bin) * block.rows();
                                                to[0] += w;
                                                to[1] += w * q[pixel];
                                                if (flat_noise && bin >= 0)
                                                  to[2] += std::pow(w * flat_field->relative_u.data()[pixel], 2);
                                                to[own + part[i]] += (1 - beyond[i]) * w;
                                                to[own + part[i] + 1] += beyond[i] * w;
                                              }
                                            });
                                          });
  unused_pixels_ = weight_.size() - table_.pixels.sum();
  weight_sum_ = sums.row(0).head(bins);
  weighted_q_ =
      (weight_sum_.array() > 0)
          .select(sums.row(1).head(bins).transpose().array() / weight_sum_.array(), table_.mean_q_per_nm.array());
  if (flat_noise)
    flat_u_ =
        (weight_sum_.array() > 0).select(sums.row(2).head(bins).transpose().array().sqrt() / weight_sum_.array(), 0.0);
  azimuth_share_ = sums.block(own + 1, 0, azimuth_parts, bins).transpose();
  // It goes round: what stands before the first part belongs to the last, and the other way about.
  azimuth_share_.col(azimuth_parts - 1) += sums.row(own).head(bins).transpose();
  azimuth_share_.col(0) += sums.row(own + azimuth_parts + 1).head(bins).transpose();
  for (Index k = 0; k < bins; ++k)
    if (const double sum = azimuth_share_.row(k).sum(); sum > 0) azimuth_share_.row(k) /= sum;
  if (options.blur) resolution_per_nm_ = q_resolution(map.q_per_nm, weight_, table_, weighted_q_, *options.blur);
}

Averager::Measured Averager::begin(const ExposureOptions& asked) const {
  Measured m;
  m.options = asked;
  ExposureOptions& o = m.options;
  if (switched_off(options_.corrections.off, StepKind::dark)) o.dark = nullptr;
  if (o.normalise_relative_u < 0 || o.flux_relative_u < 0 || !std::isfinite(o.normalise_relative_u) ||
      !std::isfinite(o.flux_relative_u))
    throw InputError(fmt::format("'{}' has relative uncertainties of {} (exposure or monitor) and {} (flux).", o.name,
                                 o.normalise_relative_u, o.flux_relative_u),
                     "Give standard uncertainties, zero or more.");
  if (m.by_monitor() && o.flux_per_s)
    throw InputError(fmt::format("'{}' is to be normalised by the monitor and by a flux.", o.name),
                     "Use the flux with the exposure, or the monitor alone.");
  if (!(m.flux() > 0) || !std::isfinite(m.flux()))
    throw InputError(fmt::format("the flux of '{}' is {} photons/s.", o.name, m.flux()), "Give it above zero.");
  if (o.dark) {
    require_frame(*o.dark, weight_, fmt::format("the dark frame '{}'", o.dark_name));
    require_exposure(o.dark->exposure_s, o.dark->metadata, fmt::format("the dark frame '{}'", o.dark_name));
  }
  const Index bins = table_.pixels.size();
  m.total = BinSums(bins);
  m.scatter = m.allowed = VectorXd::Zero(bins);
  m.dead_time = options_.corrections.dead_time;
  return m;
}

void Averager::add_amount(Measured& m, double exposure_s, const std::optional<double>& monitor, Index exposures,
                          const FrameMetadata& metadata) const {
  const std::string what = fmt::format("the frame of '{}'", m.options.name);
  if (metadata.countrate_correction_applied) {
    m.corrected_by_file = true;
    m.dead_time.reset();
  }
  if (metadata.flatfield_applied && options_.corrections.flat_field)
    throw InputError(fmt::format("{} is flat-field corrected already, as its file says.", what),
                     "Average it without the flat field; average() for single measurements does so by itself.");
  ++m.frames;
  m.exposures += exposures;
  m.monitor_known = m.monitor_known && monitor.has_value();
  m.exposure_known = m.exposure_known && !std::isnan(exposure_s);
  if (m.exposure_known || !m.by_monitor() || m.options.dark || options_.corrections.dead_time)
    m.exposure_s += require_exposure(exposure_s, metadata, what);
  if (m.monitor_known) m.monitor += *monitor;
  m.amount += m.by_monitor() ? require_monitor(monitor, what) : require_exposure(exposure_s, metadata, what) * m.flux();
}

PixelInputs Averager::inputs(const Measured& m, const Mask& skip) const {
  PixelInputs in;
  in.slots = &slots_;
  in.weight = &weight_;
  in.q_per_nm = &q_per_nm_;
  if (skip.size() != 0) in.skip = &skip;
  if (m.options.check_scatter) in.inverse_weight = &inverse_weight_;
  in.name = m.options.name;
  if (m.options.dark) {
    in.dark = m.options.dark;
    in.dark_sums = sum_dark(in);
  }
  return in;
}

void Averager::add_sums(Measured& m, const BinSums& sums, double exposure_s) const {
  const bool first = m.pixels.size() == 0;
  if (first) {
    m.pixels = table_.pixels - sums.lost;
    m.left = (m.pixels.array() > 0).select(weight_sum_ - sums.lost_weight, 0.0);
    m.frame_q = (m.left.array() > 0)
                    .select((weighted_q_.array() * weight_sum_.array() - sums.lost_weighted_q.array()) / m.left.array(),
                            weighted_q_.array());
    m.total.lost = sums.lost;
  }
  m.total.recorded += sums.recorded;
  m.total.counts += sums.counts;
  m.total.variance += sums.variance;
  m.total.per_dead_time += sums.per_dead_time;
  m.total.dark = sums.dark;  // the same dark for every frame
  m.total.largest_load = std::max(m.total.largest_load, sums.largest_load);
  const double share = m.options.dark ? exposure_s / m.options.dark->exposure_s : 0.0;
  for (Index k = 0; m.options.check_scatter && k < m.pixels.size(); ++k) {
    if (m.pixels[k] < 2) continue;
    // E[sum e^2/w] = sum v/w - sum v / sum w with e the residuals of the flat intensity: unbiased at any count.
    const double net = sums.counts[k] - share * sums.dark[k];
    m.scatter[k] += sums.square[k] - net * net / m.left[k];
    m.allowed[k] += sums.expected[k] - (sums.variance[k] + share * share * sums.dark[k]) / m.left[k];
  }
}

Averaged Averager::average(const std::vector<const Frame*>& frames, const ExposureOptions& options) const {
  Measured m = begin(options);
  if (frames.empty()) throw InputError(fmt::format("'{}' has no frame.", options.name), "Give one or more exposures.");
  for (const Frame* f : frames) {
    require_frame(*f, weight_, fmt::format("the frame of '{}'", options.name));
    add_amount(m, f->exposure_s, f->monitor, f->exposures, f->metadata);
  }
  if (m.dead_time && m.exposures != m.frames)
    throw InputError(
        fmt::format("the frame of '{}' is a sum of exposures ({} in {} frames) and its dead time is to be corrected.",
                    options.name, m.exposures, m.frames),
        "Give the single exposures as a list of frames: counts lost depend on the rate in each.");
  const Mask skip = masks_of(frames, m.options.dark);
  PixelInputs in = inputs(m, skip);
  DeadTimeTable dead_time;
  for (const Frame* f : frames) {
    if (m.dead_time) {
      if (!in.dead_time || dead_time.exposure_s() != f->exposure_s) dead_time = {*m.dead_time, f->exposure_s};
      in.dead_time = &dead_time;
    }
    add_sums(m, sum_frame(*f, in), f->exposure_s);
  }
  return finish(m);
}

Averaged Averager::average_stored(const StoredExposure& e, const ExposureOptions& options) const {
  Measured m = begin(options);
  if (e.rows != weight_.rows() || e.columns != weight_.cols())
    refuse_shape(fmt::format("the frame of '{}'", options.name), e.rows, e.columns, weight_);
  add_amount(m, e.exposure_s, e.monitor, 1, e.metadata);
  const Mask skip = unite_masks({e.masked}, m.options.dark);
  PixelInputs in = inputs(m, skip);
  DeadTimeTable dead_time;
  if (m.dead_time) {
    dead_time = {*m.dead_time, e.exposure_s};
    in.dead_time = &dead_time;
  }
  CountTally tally;
  add_sums(m, sum_stored(e.counts, e.exposure_s, in, &tally), e.exposure_s);
  m.tally_notes = describe(tally, e.counts.saturation);
  return finish(m);
}

Averaged average(const std::vector<const Frame*>& frames, const PixelMap& map, const Mask& masked,
                 const VectorXd& edges, const AverageOptions& options, const ExposureOptions& exposure) {
  AverageOptions fitting = options;
  const bool flat_done =
      std::any_of(frames.begin(), frames.end(), [](const Frame* f) { return f->metadata.flatfield_applied; });
  if (flat_done) fitting.corrections.flat_field.reset();
  Averaged out = Averager(map, masked, edges, fitting).average(frames, exposure);
  if (flat_done && options.corrections.flat_field)
    out.notes.push_back("flat field not applied: the file says its counts are corrected already");
  return out;
}

}  // namespace sievelight
