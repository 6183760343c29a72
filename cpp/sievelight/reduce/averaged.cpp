// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/measured.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <tuple>

namespace sievelight {

using Eigen::Index;
using Eigen::VectorXd;

Averaged Averager::finish(const Measured& m) const {
  const ExposureOptions& o = m.options;
  const BinSums& total = m.total;
  const VectorXd &scatter = m.scatter, &allowed = m.allowed, &left = m.left, &frame_q = m.frame_q;
  const Eigen::VectorXi& pixels = m.pixels;
  const std::optional<DeadTime>& dead_time = m.dead_time;
  const bool by_monitor = m.by_monitor(), corrected_by_file = m.corrected_by_file;
  const double amount = m.amount, flux = m.flux();
  const Index bins = table_.pixels.size();
  if (pixels.sum() == 0)
    throw InputError(
        fmt::format("the masks of '{}' hide every one of the {} pixels in the bins.", o.name, table_.pixels.sum()),
        "In a mask true (non-zero) means 'do not use'; check the saturation value and the mask.");

  // 1. The curve, on the bins that hold pixels.
  Averaged out;
  out.name = o.name;
  if (m.exposure_known) out.exposure_s = m.exposure_s;
  if (m.monitor_known) out.monitor = m.monitor;
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

  // 2. What was done.
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

  out.notes = m.tally_notes;
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

}  // namespace sievelight
