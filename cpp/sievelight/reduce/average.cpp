// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/average.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/reduce/bin_sums.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <tuple>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

void require_frame(const Frame& frame, const Image& like, const std::string& what) {
  if (frame.counts.rows() != like.rows() || frame.counts.cols() != like.cols())
    throw InputError(fmt::format("{} has {} x {} pixels (rows x columns) but the pixel map has {} x {}.", what,
                                 frame.counts.rows(), frame.counts.cols(), like.rows(), like.cols()),
                     "Make the pixel map for this detector, and use frames of one detector only.");
  if (frame.masked.size() != 0 && (frame.masked.rows() != like.rows() || frame.masked.cols() != like.cols()))
    throw InputError(fmt::format("the mask inside {} has {} x {} pixels but its counts have {} x {}.", what,
                                 frame.masked.rows(), frame.masked.cols(), like.rows(), like.cols()),
                     "Give the mask the shape of the counts.");
}

/// What the file's reader noted on the exposure, in brackets.
std::string said_of_exposure(const Frame& frame) {
  for (const std::string& note : frame.metadata.notes)
    if (note.find("exposure") != std::string::npos) return fmt::format(" ({})", note);
  return "";
}

double require_exposure(const Frame& frame, const std::string& what) {
  if (std::isnan(frame.exposure_s))
    throw InputError(fmt::format("{} has no exposure{}.", what, said_of_exposure(frame)),
                     "Give exposure_s in the table or when opening the file, or normalise by the monitor.");
  if (!(frame.exposure_s > 0) || !std::isfinite(frame.exposure_s))
    throw InputError(fmt::format("the exposure of {} is {} s.", what, frame.exposure_s),
                     "Give the exposure in seconds, above zero.");
  return frame.exposure_s;
}

double require_monitor(const Frame& frame, const std::string& what) {
  if (!frame.monitor)
    throw InputError(fmt::format("{} has no monitor reading.", what),
                     "Give its monitor, or normalise by the exposure.");
  if (!(*frame.monitor > 0) || !std::isfinite(*frame.monitor))
    throw InputError(fmt::format("the monitor of {} reads {}.", what, *frame.monitor),
                     "A monitor must read above zero; normalise by the exposure if it was not working.");
  return *frame.monitor;
}

// Union of the masks that come with the frames and the dark; empty when none masks anything.
Mask masks_of(const std::vector<const Frame*>& frames, const Frame* dark) {
  Mask skip;
  const auto unite_with = [&skip](const Mask& m) {
    if (m.size() == 0) return;
    if (skip.size() == 0)
      skip = m;
    else
      skip = skip || m;
  };
  for (const Frame* f : frames) unite_with(f->masked);
  if (dark) {
    unite_with(dark->masked);
    unite_with(!(dark->counts.isFinite() && dark->counts >= 0.0));
  }
  return skip;
}

// What is switched off is not there for the pass over the pixels.
AverageOptions without_off(AverageOptions options) {
  Corrections& c = options.corrections;
  if (switched_off(c.off, StepKind::dead_time)) c.dead_time.reset();
  if (switched_off(c.off, StepKind::flat_field)) c.flat_field.reset();
  return options;
}

// (bins, azimuth_parts): from which azimuths the weight of a bin comes.
Eigen::MatrixXd azimuth_shares(const PixelMap& map, const BinTable& table, const Image& weight) {
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(table.pixels.size(), azimuth_parts);
  for (Index i = 0; i < weight.size(); ++i) {
    const std::int32_t bin = table.index.data()[i];
    if (bin < 0) continue;
    // In [-1/2, parts - 1/2], from the first middle; it wraps around.
    const double place = (map.azimuth_rad.data()[i] + pi) / (2 * pi) * static_cast<double>(azimuth_parts) - 0.5;
    const double below = std::floor(place), beyond = place - below;
    const Index part = (static_cast<Index>(below) + azimuth_parts) % azimuth_parts;
    out(bin, part) += (1 - beyond) * weight.data()[i];
    out(bin, (part + 1) % azimuth_parts) += beyond * weight.data()[i];
  }
  for (Index k = 0; k < out.rows(); ++k)
    if (const double sum = out.row(k).sum(); sum > 0) out.row(k) /= sum;
  return out;
}

}  // namespace

Averager::Averager(const PixelMap& map, const Mask& masked, const VectorXd& edges, const AverageOptions& options)
    : options_(without_off(options)),
      table_(bin_table(map, usable_mask(map, masked, options_.corrections), edges, options.sectors)),
      q_per_nm_(map.q_per_nm) {
  const Index bins = table_.pixels.size();
  std::vector<Index> filled;
  for (Index k = 0; k < bins; ++k)
    if (table_.pixels[k] > 0) filled.push_back(k);
  report_bins_ = {filled.front(), filled[filled.size() / 2], filled.back()};
  Normalisation made = normalisation(map, table_, options.corrections, report_bins_);
  weight_ = std::move(made.per_pixel);
  effects_ = std::move(made.effects);
  causes_ = std::move(made.causes);
  azimuth_share_ = azimuth_shares(map, table_, weight_);

  const std::optional<FlatField>& flat_field = options_.corrections.flat_field;
  const bool flat_noise = flat_field && flat_field->relative_u.size() != 0;
  weight_sum_ = VectorXd::Zero(bins);
  weighted_q_ = VectorXd::Zero(bins);
  VectorXd flat = VectorXd::Zero(bins);
  for (Index i = 0; i < weight_.size(); ++i) {
    const std::int32_t bin = table_.index.data()[i];
    if (bin < 0) {
      ++unused_pixels_;
      continue;
    }
    const double w = weight_.data()[i];
    weight_sum_[bin] += w;
    weighted_q_[bin] += w * q_per_nm_.data()[i];
    if (flat_noise) flat[bin] += std::pow(w * flat_field->relative_u.data()[i], 2);
  }
  for (Index k = 0; k < bins; ++k)
    weighted_q_[k] = weight_sum_[k] > 0 ? weighted_q_[k] / weight_sum_[k] : table_.mean_q_per_nm[k];
  if (flat_noise) flat_u_ = (weight_sum_.array() > 0).select(flat.array().sqrt() / weight_sum_.array(), 0.0);
  if (options.blur) resolution_per_nm_ = q_resolution(q_per_nm_, weight_, table_, weighted_q_, *options.blur);
}

Averaged Averager::average(const std::vector<const Frame*>& frames, const ExposureOptions& asked) const {
  ExposureOptions o = asked;
  if (switched_off(options_.corrections.off, StepKind::dark)) o.dark = nullptr;
  const std::string what = fmt::format("the frame of '{}'", o.name);
  if (frames.empty()) throw InputError(fmt::format("'{}' has no frame.", o.name), "Give one or more exposures.");
  if (o.normalise_relative_u < 0 || o.flux_relative_u < 0 || !std::isfinite(o.normalise_relative_u) ||
      !std::isfinite(o.flux_relative_u))
    throw InputError(fmt::format("'{}' has relative uncertainties of {} (exposure or monitor) and {} (flux).", o.name,
                                 o.normalise_relative_u, o.flux_relative_u),
                     "Give standard uncertainties, zero or more.");
  const bool by_monitor = o.normalise_by == NormaliseBy::monitor;
  if (by_monitor && o.flux_per_s)
    throw InputError(fmt::format("'{}' is to be normalised by the monitor and by a flux.", o.name),
                     "Use the flux with the exposure, or the monitor alone.");
  const double flux = o.flux_per_s.value_or(1.0);
  if (!(flux > 0) || !std::isfinite(flux))
    throw InputError(fmt::format("the flux of '{}' is {} photons/s.", o.name, flux), "Give it above zero.");

  Averaged out;
  out.name = o.name;
  bool corrected_by_file = false, exposure_known = true;
  Index exposures = 0;
  double amount = 0.0, monitor = 0.0;  // amount: t Phi, or the monitor
  bool monitor_known = true;
  for (const Frame* f : frames) {
    require_frame(*f, q_per_nm_, what);
    corrected_by_file = corrected_by_file || f->metadata.countrate_correction_applied;
    if (f->metadata.flatfield_applied && options_.corrections.flat_field)
      throw InputError(fmt::format("{} is flat-field corrected already, as its file says.", what),
                       "Average it without the flat field; average() for single measurements does so by itself.");
    exposures += f->exposures;
    monitor_known = monitor_known && f->monitor.has_value();
    exposure_known = exposure_known && !std::isnan(f->exposure_s);
    if (exposure_known || !by_monitor || o.dark || options_.corrections.dead_time)
      out.exposure_s += require_exposure(*f, what);
    if (monitor_known) monitor += *f->monitor;
    amount += by_monitor ? require_monitor(*f, what) : require_exposure(*f, what) * flux;
  }
  if (!exposure_known) out.exposure_s = 0.0;
  if (monitor_known) out.monitor = monitor;
  const std::optional<DeadTime> dead_time = corrected_by_file ? std::nullopt : options_.corrections.dead_time;
  if (dead_time && exposures != static_cast<Index>(frames.size()))
    throw InputError(fmt::format("{} is a sum of exposures ({} in {} frames) and its dead time is to be corrected.",
                                 what, exposures, frames.size()),
                     "Give the single exposures as a list of frames: counts lost depend on the rate in each.");
  if (o.dark) {
    require_frame(*o.dark, q_per_nm_, fmt::format("the dark frame '{}'", o.dark_name));
    require_exposure(*o.dark, fmt::format("the dark frame '{}'", o.dark_name));
  }

  // 1. Sums per bin, frame by frame.
  const Index bins = table_.pixels.size();
  const Mask skip = masks_of(frames, o.dark);
  const PixelInputs inputs{table_.index, weight_, q_per_nm_, skip, o.dark, dead_time, o.check_scatter, o.name};
  BinSums total(bins);
  VectorXd scatter = VectorXd::Zero(bins), allowed = VectorXd::Zero(bins), left = weight_sum_;
  Eigen::VectorXi pixels = table_.pixels;
  VectorXd frame_q = weighted_q_;
  for (const Frame* f : frames) {
    const BinSums sums = sum_frame(*f, inputs, bins);
    if (f == frames.front()) {
      pixels -= sums.lost;
      left = (pixels.array() > 0).select(weight_sum_ - sums.lost_weight, 0.0);
      frame_q = (left.array() > 0)
                    .select((weighted_q_.array() * weight_sum_.array() - sums.lost_weighted_q.array()) / left.array(),
                            weighted_q_.array());
      total.lost = sums.lost;
    }
    const double share = o.dark ? f->exposure_s / o.dark->exposure_s : 0.0;
    total.recorded += sums.recorded;
    total.counts += sums.counts;
    total.variance += sums.variance;
    total.per_dead_time += sums.per_dead_time;
    total.dark = sums.dark;  // the same dark for every frame
    total.largest_load = std::max(total.largest_load, sums.largest_load);
    for (Index k = 0; o.check_scatter && k < bins; ++k) {
      if (pixels[k] < 2) continue;
      // E[sum e^2/w] = sum v/w - sum v / sum w with e the residuals of the flat intensity: unbiased at any count.
      const double net = sums.counts[k] - share * sums.dark[k];
      scatter[k] += sums.square[k] - net * net / left[k];
      allowed[k] += sums.expected[k] - (sums.variance[k] + share * share * sums.dark[k]) / left[k];
    }
  }
  if (pixels.sum() == 0)
    throw InputError(
        fmt::format("the masks of '{}' hide every one of the {} pixels in the bins.", o.name, table_.pixels.sum()),
        "In a mask true (non-zero) means 'do not use'; check the saturation value and the mask.");

  // 2. The curve, on the bins that hold pixels.
  std::vector<Index> used;
  for (Index k = 0; k < bins; ++k) {
    if (pixels[k] > 0)
      used.push_back(k);
    else
      out.empty_bins.push_back(static_cast<int>(k));
  }
  const Index n = static_cast<Index>(used.size());
  Curve& curve = out.curve;
  curve.q_per_nm = weighted_q_(used);
  curve.q_low_per_nm = table_.edges_per_nm.head(bins)(used);
  curve.q_high_per_nm = table_.edges_per_nm.tail(bins)(used);
  if (resolution_per_nm_.size() != 0) curve.q_resolution_per_nm = resolution_per_nm_(used);
  const double share = o.dark ? out.exposure_s / o.dark->exposure_s : 0.0;
  out.bin.resize(n);
  out.pixels.resize(n);
  out.counts = total.recorded(used);
  out.dark_counts = share * total.dark(used);
  out.azimuth_share = azimuth_share_(used, Eigen::all);
  out.normalisation = amount * left(used);
  curve.intensity = (total.counts(used) - out.dark_counts).array() / out.normalisation.array();
  curve.private_u.resize(n);
  VectorXd dark_u(n);
  if (o.check_scatter) out.scatter_ratio.resize(n);
  double worst_shift = 0.0;
  for (Index i = 0; i < n; ++i) {
    const Index k = used[static_cast<std::size_t>(i)];
    out.bin[i] = static_cast<int>(k);
    out.pixels[i] = pixels[k];
    const bool few = total.recorded[k] < o.few_counts;
    if (few) out.few_count_bins.push_back(static_cast<int>(k));
    curve.private_u[i] = std::sqrt(total.variance[k] + (few ? 1.0 : 0.0)) / out.normalisation[i];
    // Minus: a dark that is too high by chance makes the intensity too low.
    const double dark_extra = total.dark[k] < o.few_counts ? 1.0 : 0.0;
    dark_u[i] = -share * std::sqrt(total.dark[k] + dark_extra) / out.normalisation[i];
    if (o.check_scatter)
      out.scatter_ratio[i] = allowed[k] > 0 ? scatter[k] / allowed[k] : std::numeric_limits<double>::quiet_NaN();
    worst_shift = std::max(
        worst_shift, std::abs(frame_q[k] - weighted_q_[k]) / (table_.edges_per_nm[k + 1] - table_.edges_per_nm[k]));
  }
  if (o.dark) curve.causes["dark counts: " + o.dark_name] = {CauseKind::pointwise, dark_u};
  if (flat_u_.size() != 0)
    curve.causes["flat field: " + options_.corrections.flat_field->name] = {
        CauseKind::pointwise, -(flat_u_(used).array() * curve.intensity.array()).matrix()};
  if (dead_time && dead_time->u_s > 0)
    curve.causes["dead time"] = {
        CauseKind::coherent, (dead_time->u_s * total.per_dead_time(used).array() / out.normalisation.array()).matrix()};
  for (const BinCause& cause : causes_)
    curve.causes[cause.id] = {CauseKind::coherent, -(cause.relative(used).array() * curve.intensity.array()).matrix()};
  if (o.normalise_relative_u > 0)
    curve.causes[(by_monitor ? "monitor: " : "exposure: ") + o.name] = {CauseKind::coherent,
                                                                        -o.normalise_relative_u * curve.intensity};
  if (o.flux_relative_u > 0) curve.causes["flux"] = {CauseKind::coherent, -o.flux_relative_u * curve.intensity};

  // 3. What was done.
  const auto at_bins = [&](const auto& value) {
    return std::array<double, 3>{value(report_bins_[0]), value(report_bins_[1]), value(report_bins_[2])};
  };
  const auto of_net = [&](const auto& u) {  // in counts, relative to what is left after the dark
    return at_bins([&](Index k) {
      const double net = total.counts[k] - share * total.dark[k];
      return net > 0 ? u(k) / net : 0.0;
    });
  };
  const std::vector<StepKind>& off = options_.corrections.off;
  const Index lost = total.lost.sum();
  out.steps.push_back(
      applied(StepKind::mask,
              fmt::format("{} of {} pixels left out or outside the bins", unused_pixels_ + lost, weight_.size()),
              {1.0, 1.0, 1.0}));
  out.steps.push_back(applied(StepKind::counts, fmt::format("{:.0f} counts", total.recorded.sum()), {1.0, 1.0, 1.0},
                              of_net([&](Index k) { return std::sqrt(total.recorded[k]); })));
  if (dead_time)
    out.steps.push_back(
        applied(StepKind::dead_time,
                fmt::format("tau = {:.4g} s, {}; largest n tau {:.3g}", dead_time->dead_time_s,
                            dead_time->model == DeadTimeModel::paralyzable ? "paralyzable" : "non-paralyzable",
                            total.largest_load),
                at_bins([&](Index k) { return total.recorded[k] > 0 ? total.counts[k] / total.recorded[k] : 1.0; }),
                of_net([&](Index k) {  // beyond the counts' own
                  const double more = std::max(0.0, total.variance[k] - total.recorded[k]);
                  return std::hypot(std::sqrt(more), dead_time->u_s * total.per_dead_time[k]);
                })));
  else
    out.steps.push_back(left_out(StepKind::dead_time, switched_off(off, StepKind::dead_time) ? switched_off_words
                                                      : corrected_by_file
                                                          ? "the file says its counts are corrected already"
                                                          : "no dead time was given"));
  if (o.dark)
    out.steps.push_back(
        applied(StepKind::dark, fmt::format("'{}', t/t_D = {:.5g}", o.dark_name, share), at_bins([&](Index k) {
                  return total.counts[k] > 0 ? (total.counts[k] - share * total.dark[k]) / total.counts[k] : 1.0;
                }),
                of_net([&](Index k) { return share * std::sqrt(total.dark[k]); })));
  else
    out.steps.push_back(
        left_out(StepKind::dark, switched_off(off, StepKind::dark) ? switched_off_words : "no dark frame was given"));
  const double amount_u = std::hypot(o.normalise_relative_u, o.flux_relative_u);
  out.steps.push_back(applied(StepKind::exposure,
                              by_monitor ? fmt::format("monitor {:.6g}", amount)
                                         : fmt::format("t = {:.6g} s, Phi = {:.6g}", out.exposure_s, flux),
                              {1 / amount, 1 / amount, 1 / amount}, {amount_u, amount_u, amount_u}));
  for (StepEffect effect : effects_) {
    if (flat_u_.size() != 0 && effect.name == step(StepKind::flat_field).name)
      std::tie(effect.relative_u_low, effect.relative_u_mid, effect.relative_u_high) =
          std::tuple(flat_u_[report_bins_[0]], flat_u_[report_bins_[1]], flat_u_[report_bins_[2]]);
    out.steps.push_back(std::move(effect));
  }

  if (corrected_by_file && options_.corrections.dead_time)
    out.notes.push_back("dead time not corrected: the file says its counts are corrected already");
  if (dead_time && dead_time->model == DeadTimeModel::paralyzable && total.largest_load > two_valued_above)
    out.notes.push_back(
        fmt::format("paralyzable dead time: n tau reaches {:.3g}; the recorded rate has a second, higher solution",
                    total.largest_load));
  if (!out.empty_bins.empty())
    out.notes.push_back(fmt::format("{} of {} bins hold no pixel and are left out", out.empty_bins.size(), bins));
  if (!out.few_count_bins.empty())
    out.notes.push_back(fmt::format("{} bins hold fewer than {:.0f} counts; their variance is taken as N + 1",
                                    out.few_count_bins.size(), o.few_counts));
  // One fiftieth of a bin: with a bin of 1 % and I ~ q^-4 it moves the intensity by less than 0.1 %.
  if (worst_shift > 0.02)
    out.notes.push_back(
        fmt::format("the mask inside the frame moves the mean q of a bin by up to {:.2g} of its width; "
                    "put it into the mask of the whole study",
                    worst_shift));
  return out;
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
