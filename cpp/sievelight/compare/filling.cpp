// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/filling.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/holm.hpp"
#include "sievelight/compare/frame_difference.hpp"
#include "sievelight/distribution/grid.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <gsl/gsl_cdf.h>

#include <Eigen/QR>
#include <Eigen/SVD>
#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;

void check_filling(const std::vector<Curve>& curves, const StartPores& pores, const SeriesChange& change,
                   const FillingOptions& o) {
  const Index m = pores.diameter_nm.size();
  bool rising = m >= 3 && pores.diameter_nm[0] > 0;
  for (Index j = 0; rising && j + 1 < m; ++j) rising = pores.diameter_nm[j + 1] > pores.diameter_nm[j];
  if (!rising || pores.cumulative_draws.rows() != m || pores.cumulative_draws.cols() < 1)
    throw InputError(
        fmt::format("{} sizes with draws of {} x {}.", m, pores.cumulative_draws.rows(), pores.cumulative_draws.cols()),
        "Give three rising sizes or more, and the cumulative draws of an inversion at each.");
  if (!(o.filled_ratio >= 0 && o.filled_ratio < 1) || o.start < 1 || !(o.alpha > 0 && o.alpha < 0.5))
    throw InputError(fmt::format("filled_ratio = {}, start = {}, alpha = {}.", o.filled_ratio, o.start, o.alpha),
                     "The squared contrast of filled over empty pores lies between 0 and 1; one frame or more make the "
                     "start.");
  if (change.frames.size() != curves.size() || static_cast<int>(curves.size()) <= o.start)
    throw InputError(fmt::format("{} curves, {} of them the start, and changes of {}.", curves.size(), o.start,
                                 change.frames.size()),
                     "Give the changes that were found in these curves.");
}

// What filled pores take from the curve: per draw, the loss when the cells up to a node are full.
struct Losses {
  Eigen::MatrixXd mean;                // (bands, m) column j: everything below node j is filled
  std::vector<Eigen::MatrixXd> draws;  // the same for each draw
  Eigen::VectorXd share;               // (m) mean cumulative
};

// Amplitude of a unit distribution in the start's curve, beside a flat level and the power law.
double amplitude(const Eigen::VectorXd& unit, const Curve& reference, const Kernel& kernel, bool power_law) {
  const Eigen::VectorXd weight = pointwise_u(reference).cwiseInverse();
  Eigen::MatrixXd a(unit.size(), power_law ? 3 : 2);
  a.col(0) = unit;
  a.col(1).setOnes();
  if (power_law) a.col(2) = kernel.power_law;
  const Eigen::MatrixXd scaled = weight.asDiagonal() * a;
  const Eigen::RowVectorXd norm = scaled.colwise().norm();
  const Eigen::VectorXd fit =
      (scaled * norm.cwiseInverse().asDiagonal()).colPivHouseholderQr().solve(weight.cwiseProduct(reference.intensity));
  return fit[0] / norm[0];
}

Losses losses_of(const StartPores& pores, const Curve& reference, const BandMeans& bands, double lost) {
  const Index m = pores.diameter_nm.size(), count = pores.cumulative_draws.cols();
  SizeGrid grid;
  grid.diameter_nm = pores.diameter_nm;
  grid.step = std::log(pores.diameter_nm[m - 1] / pores.diameter_nm[0]) / static_cast<double>(m - 1);
  grid.window_high = m - 1;
  const Kernel kernel = make_kernel(reference, grid, pores.kernel);
  // A node's column is the integral over its hat; the end nodes have half of one. A cell takes the mean of its nodes.
  Eigen::MatrixXd at_node = kernel.volume_nm3 / grid.step;
  at_node.col(0) *= 2;
  at_node.col(m - 1) *= 2;
  const Eigen::MatrixXd cells = 0.5 * (at_node.leftCols(m - 1) + at_node.rightCols(m - 1));
  const Eigen::MatrixXd banded = bands.of(cells);
  Losses out;
  out.mean = Eigen::MatrixXd::Zero(bands.size(), m);
  out.share = pores.cumulative_draws.rowwise().mean();
  for (Index k = 0; k < count; ++k) {
    const Eigen::VectorXd in_cell =
        pores.cumulative_draws.col(k).tail(m - 1) - pores.cumulative_draws.col(k).head(m - 1);
    const double a = amplitude(cells * in_cell, reference, kernel, pores.power_law);
    Eigen::MatrixXd loss = Eigen::MatrixXd::Zero(bands.size(), m);
    for (Index j = 0; j + 1 < m; ++j) loss.col(j + 1) = loss.col(j) + lost * a * in_cell[j] * banded.col(j);
    out.mean += loss / static_cast<double>(count);
    out.draws.push_back(std::move(loss));
  }
  return out;
}

struct Place {
  Index cell = 0;  // filled up to within this cell
  double part = 0.0, chi2 = 0.0;
  Eigen::VectorXd slope;  // (bands) whitened d(-G) / d share there, the flat level projected out
  Eigen::VectorXd shift;  // (bands) influence of d on the share
};

// The place of least chi^2: within a cell G is linear in the part of it that is filled, so the minimum has a closed
// form.
Place best_place(const Eigen::VectorXd& d, const Noise& noise, const Losses& losses) {
  Eigen::VectorXd flat = noise.whiten(Eigen::VectorXd::Ones(d.size()));
  flat.normalize();
  const auto without_flat = [&](const Eigen::MatrixXd& a) -> Eigen::MatrixXd {
    return a - flat * (flat.transpose() * a);
  };
  const Eigen::VectorXd y = without_flat(noise.whiten(d));
  const Eigen::MatrixXd g = without_flat(noise.whiten(losses.mean));
  const Index m = g.cols();
  Place best;
  best.chi2 = std::numeric_limits<double>::infinity();
  for (Index j = 0; j + 1 < m; ++j) {
    const Eigen::VectorXd residual = y + g.col(j), step = g.col(j + 1) - g.col(j);
    const double length = step.squaredNorm();
    const double part = length > 0 ? std::clamp(-residual.dot(step) / length, 0.0, 1.0) : 0.0;
    const double chi2 = (residual + part * step).squaredNorm();
    if (chi2 < best.chi2 * (1 - 1e-12)) {
      best.cell = j;
      best.part = part;
      best.chi2 = chi2;
    }
  }
  // Slope over the neighbourhood that holds a percent of the volume: a single cell may hold next to nothing.
  Index low = best.cell, high = best.cell + 1;
  while (losses.share[high] - losses.share[low] < 0.01 && (low > 0 || high + 1 < m)) {
    if (low > 0) --low;
    if (high + 1 < m) ++high;
  }
  best.slope = -(g.col(high) - g.col(low)) / std::max(losses.share[high] - losses.share[low], 1e-12);
  best.shift = noise.whiten_back(best.slope) / best.slope.squaredNorm();
  return best;
}

// (bands, k) what the draws leave open of the loss at a place, one column a draw; their sum of squares is its variance.
Eigen::MatrixXd open_part(const Losses& losses, const Place& at) {
  const auto count = static_cast<Index>(losses.draws.size());
  Eigen::MatrixXd out(losses.mean.rows(), count);
  const auto loss = [&](const Eigen::MatrixXd& l) -> Eigen::VectorXd {
    return l.col(at.cell) + at.part * (l.col(at.cell + 1) - l.col(at.cell));
  };
  for (Index k = 0; k < count; ++k)
    out.col(k) = (loss(losses.draws[static_cast<std::size_t>(k)]) - loss(losses.mean)) /
                 std::sqrt(std::max<double>(1.0, static_cast<double>(count - 1)));
  return out;
}

// As few directions with the same covariance as it has: more than the bands are would not be independent.
Eigen::MatrixXd compact(const Eigen::MatrixXd& directions) {
  const Eigen::JacobiSVD<Eigen::MatrixXd> parts(directions, Eigen::ComputeThinU);
  Index kept = 0;
  while (kept < parts.singularValues().size() && parts.singularValues()[kept] > 1e-5 * parts.singularValues()[0])
    ++kept;
  return parts.matrixU().leftCols(kept) * parts.singularValues().head(kept).asDiagonal();
}

Estimate share_estimate(double value, double u) {
  Estimate out = Estimate::normal(value, u);
  for (Range* r : {&out.band68, &out.band95}) *r = {std::clamp(r->low, 0.0, 1.0), std::clamp(r->high, 0.0, 1.0)};
  return out;
}

double diameter_at(const Losses& losses, const Eigen::VectorXd& diameter_nm, double share) {
  const Index m = diameter_nm.size();
  Index j = 0;
  while (j + 2 < m && losses.share[j + 1] < share) ++j;
  const double width = losses.share[j + 1] - losses.share[j];
  const double part = width > 0 ? std::clamp((share - losses.share[j]) / width, 0.0, 1.0) : 0.0;
  return diameter_nm[j] * std::pow(diameter_nm[j + 1] / diameter_nm[j], part);
}

std::string words_of(const Filling& filling, const SeriesChange& change, const Eigen::VectorXd& diameter_nm) {
  std::vector<std::size_t> refused;
  double smallest = 1.0;
  bool any = false, reshaped = false;
  for (std::size_t k = 0; k < change.frames.size(); ++k) {
    if (!change.frames[k].changed) continue;
    any = true;
    reshaped = reshaped || change.frames[k].another_shape;
    if (change.frames[k].another_shape) smallest = std::min(smallest, filling.frames[k].p_filling);
    if (filling.frames[k].refused) refused.push_back(k);
  }
  if (!any) return "nothing changed that a filling would have to explain";
  if (!reshaped) return "every frame is the start's curve scaled: pores that fill evenly, or another contrast";
  if (refused.empty()) {
    const Estimate& first = filling.frames[static_cast<std::size_t>(*change.first)].filled_up_to_nm;
    const bool bounded = first.band95.low > diameter_nm[0] * 1.001;
    return fmt::format(
        "a filling of the start's pores from the smallest up gives the curve of every frame of another shape (smallest "
        "p = {:.2g}), beginning with pores {}{:.3g} nm: the pores themselves need not have changed",
        smallest, bounded ? "up to " : "below ", bounded ? first.value : first.band95.high);
  }
  return fmt::format(
      "a filling of the start's pores from the smallest up does not give the curve of frame{} {} (smallest p = "
      "{:.1g}): "
      "other pores fill first, or the pores themselves have changed",
      refused.size() > 1 ? "s" : "", fmt::join(refused, ", "), smallest);
}

}  // namespace

Filling find_filling(const std::vector<Curve>& given, const StartPores& pores, const SeriesChange& change,
                     const FillingOptions& options) {
  check_filling(given, pores, change, options);
  const std::vector<Curve> curves = on_common_bins(given);
  const Curve reference = start_of_series(curves, options.start);
  const BandMeans bands(curves, options.bands);
  const Losses losses = losses_of(pores, reference, bands, 1 - options.filled_ratio);
  const auto count = static_cast<Index>(curves.size());
  // Columns per frame: how the start's counts and its distribution move the frame's share.
  const Eigen::VectorXd start_u = bands.u_of(reference.private_u);
  Eigen::MatrixXd by_start = Eigen::MatrixXd::Zero(start_u.size() + static_cast<Index>(losses.draws.size()), count);
  Filling out;
  out.frames.resize(curves.size());
  Eigen::VectorXd variance = Eigen::VectorXd::Zero(count);
  std::vector<double> p;
  for (std::size_t k = 0; k < curves.size(); ++k) {
    FillingFrame& frame = out.frames[k];
    const auto column = static_cast<Index>(k);
    if (column < options.start) {  // of the start: nothing is filled, by definition
      frame.filled_share = Estimate::normal(0, 0);
      frame.filled_up_to_nm = Estimate::normal(0, 0);
      continue;
    }
    const FrameDifference difference = frame_difference(curves[k], reference, bands);
    Place at = best_place(difference.d, difference.noise, losses);
    Eigen::MatrixXd open;
    for (int pass = 0; pass < 2; ++pass) {  // the open part depends a little on the place
      open = open_part(losses, at);
      const Eigen::MatrixXd few = compact(open);
      Eigen::MatrixXd shared(open.rows(), difference.noise.shared().cols() + few.cols());
      shared << difference.noise.shared(), few;
      at = best_place(difference.d, Noise(difference.noise.u(), shared), losses);
    }
    frame.chi2 = at.chi2;
    frame.degrees_of_freedom = static_cast<double>(bands.size() - 2);
    frame.p_filling = gsl_cdf_chisq_Q(frame.chi2, frame.degrees_of_freedom);
    const double share = losses.share[at.cell] + at.part * (losses.share[at.cell + 1] - losses.share[at.cell]);
    variance[column] = 1 / at.slope.squaredNorm();
    frame.filled_share = share_estimate(share, std::sqrt(variance[column]));
    const auto diameter = [&](double s) { return diameter_at(losses, pores.diameter_nm, s); };
    const Estimate& s = frame.filled_share;
    frame.filled_up_to_nm.value =
        pores.diameter_nm[at.cell] * std::pow(pores.diameter_nm[at.cell + 1] / pores.diameter_nm[at.cell], at.part);
    frame.filled_up_to_nm.band68 = {diameter(s.band68.low), diameter(s.band68.high)};
    frame.filled_up_to_nm.band95 = {diameter(s.band95.low), diameter(s.band95.high)};
    frame.filled_up_to_nm.u = 0.5 * (frame.filled_up_to_nm.band68.high - frame.filled_up_to_nm.band68.low);
    by_start.col(column) << start_u.cwiseProduct(at.shift), open.transpose() * at.shift;
    p.push_back(frame.p_filling);
  }
  const HolmResult judged = holm(p, options.alpha);
  for (std::size_t e = 0; e < p.size(); ++e) {
    const std::size_t k = e + static_cast<std::size_t>(options.start);
    // A frame that is the start's curve scaled needs no order of filling.
    out.frames[k].refused = judged.claimed[e] && change.frames[k].another_shape;
  }
  out.share_covariance = by_start.transpose() * by_start;
  out.share_covariance.diagonal() = out.share_covariance.diagonal().cwiseMax(variance);
  out.words = words_of(out, change, pores.diameter_nm);
  return out;
}

}  // namespace sievelight
