// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/spikes.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gsl.hpp"
#include "sievelight/base/parallel.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

double at_least(double n, double share, double total) {
  if (n < 0.5) return 1.0;
  return gsl_cdf_binomial_Q(static_cast<unsigned>(n) - 1, share, static_cast<unsigned>(total));
}

// Smallest count of one exposure that is a spike, by the pixel's sum: most pixels are looked up, not computed.
class Limits {
 public:
  Limits(double share, double level) : share_(share), level_(level), least_(known) {
    double n = 0.0;
    for (std::size_t total = 0; total < least_.size(); ++total) {  // the limit rises with the sum
      while (n <= static_cast<double>(total) && at_least(n, share, static_cast<double>(total)) > level) ++n;
      least_[total] = n;
    }
  }
  bool spike(double n, double total) const {
    if (total < known) return n >= least_[static_cast<std::size_t>(total)];
    // Below three standard deviations the chance is about a thousandth; not worth the exact number.
    const double mean = share_ * total, reach = level_ < 1e-4 ? 3 * std::sqrt(mean * (1 - share_)) : 0.0;
    return n > mean + reach && at_least(n, share_, total) <= level_;
  }

 private:
  static constexpr std::size_t known = 1000;
  double share_, level_;
  std::vector<double> least_;
};

Mask require(const std::vector<const Frame*>& frames, const SpikeOptions& options) {
  if (frames.size() < 2)
    throw InputError(
        fmt::format("{} exposure was given to look for spikes.", frames.size()),
        "Give two or more exposures of one measurement (five or more find small spikes); split a long one.");
  if (!(options.false_per_exposure > 0) || options.false_per_exposure > 1)
    throw InputError(fmt::format("{} false spikes are allowed in an exposure.", options.false_per_exposure),
                     "Allow more than zero and one at most; 0.01 is usual.");
  const Image& first = frames.front()->counts;
  Mask skip = Mask::Constant(first.rows(), first.cols(), false);
  for (std::size_t k = 0; k < frames.size(); ++k) {
    const Frame& f = *frames[k];
    if (f.counts.rows() != first.rows() || f.counts.cols() != first.cols())
      throw InputError(fmt::format("exposure {} has {} x {} pixels (rows x columns) but the first has {} x {}.", k,
                                   f.counts.rows(), f.counts.cols(), first.rows(), first.cols()),
                       "Give exposures of one detector.");
    if (f.exposures != 1)
      throw InputError(fmt::format("exposure {} is a sum of {} exposures.", k, f.exposures),
                       "Give the single exposures: in a sum a spike is diluted.");
    if (f.masked.size() != 0) skip = skip || f.masked;
  }
  for (std::size_t k = 0; k < frames.size(); ++k)
    for (Index i = 0; i < skip.size(); ++i) {
      const double n = frames[k]->counts.data()[i];
      // 4e9 is where whole numbers of 32 bits end.
      if (!skip.data()[i] && !(n >= 0 && n < 4e9))
        throw DataError(
            fmt::format("the counts of exposure {} are {} at row {}, column {}, a pixel that is not masked.", k, n,
                        i / skip.cols(), i % skip.cols()),
            "Mask the pixel; readers of frames mask negative and not finite values.");
    }
  if (skip.all())
    throw InputError(fmt::format("the masks hide every one of the {} pixels.", skip.size()),
                     "In a mask true (non-zero) means 'do not use'.");
  return skip;
}

VectorXd shares(const std::vector<const Frame*>& frames, const Mask& skip) {
  VectorXd share(static_cast<Index>(frames.size()));
  for (Index k = 0; k < share.size(); ++k)
    share[k] = skip.select(0.0, frames[static_cast<std::size_t>(k)]->counts).sum();
  const double sum = share.sum();
  return sum > 0 ? VectorXd(share / sum) : VectorXd::Constant(share.size(), 1.0 / static_cast<double>(share.size()));
}

}  // namespace

SpikeReport find_spikes(const std::vector<const Frame*>& frames, const SpikeOptions& options) {
  quiet_gsl();
  const Mask skip = require(frames, options);
  const std::size_t exposures = frames.size();
  SpikeReport out;
  out.pixels = skip.size() - skip.count();
  const double level = options.false_per_exposure / static_cast<double>(out.pixels);
  Image total = Image::Zero(skip.rows(), skip.cols());
  for (const Frame* f : frames) total += f->counts.round();
  total = skip.select(0.0, total);

  // Shares by time first, because a spike can outshine a faint frame; then by the counts without what was found.
  VectorXd guess(static_cast<Index>(exposures));
  bool known = true;
  for (std::size_t k = 0; k < exposures; ++k) {
    guess[static_cast<Index>(k)] = frames[k]->exposure_s;
    known = known && std::isfinite(frames[k]->exposure_s) && frames[k]->exposure_s > 0;
  }
  out.share = known ? VectorXd(guess / guess.sum()) : shares(frames, skip);
  for (int round = 0; round < 5; ++round) {
    std::vector<Mask> found(exposures);
    parallel_for(exposures, [&](std::size_t k) {
      const Limits limits(out.share[static_cast<Index>(k)], level);
      found[k] = Mask::Constant(skip.rows(), skip.cols(), false);
      for (Index i = 0; i < skip.size(); ++i)
        found[k].data()[i] = !skip.data()[i] && limits.spike(std::round(frames[k]->counts.data()[i]), total.data()[i]);
    });
    bool same = round > 0;
    Mask leave = skip;
    for (std::size_t k = 0; k < exposures; ++k) {
      same = same && (found[k] == out.masks[k]).all();
      leave = leave || found[k];
    }
    out.masks = std::move(found);
    if (same || leave.all()) break;
    out.share = shares(frames, leave);
  }

  for (std::size_t k = 0; k < exposures; ++k) {
    const double share = out.share[static_cast<Index>(k)];
    Index number = 0;
    for (Index i = 0; i < skip.size(); ++i) {
      if (!out.masks[k].data()[i]) continue;
      ++number;
      const double n = std::round(frames[k]->counts.data()[i]), all = total.data()[i];
      out.spikes.push_back({static_cast<int>(k), i / skip.cols(), i % skip.cols(), n,
                            share < 1 ? (all - n) * share / (1 - share) : 0.0, at_least(n, share, all)});
    }
    // A thousandth of the detector lit by particles in one exposure is no longer a matter of single hits.
    if (static_cast<double>(number) > 1e-3 * static_cast<double>(out.pixels) && number > 5)
      out.notes.push_back(fmt::format(
          "exposure {} has {} pixels above the other exposures, more than spikes explain: the sample or the "
          "beam may have changed; compare the repeats",
          k, number));
  }
  return out;
}

std::vector<Frame> remove_spikes(const std::vector<const Frame*>& frames, const SpikeOptions& options) {
  const SpikeReport report = find_spikes(frames, options);
  std::vector<Frame> out;
  out.reserve(frames.size());
  for (std::size_t k = 0; k < frames.size(); ++k) {
    out.push_back(*frames[k]);
    Mask& masked = out.back().masked;
    masked = masked.size() != 0 ? Mask(masked || report.masks[k]) : report.masks[k];
  }
  return out;
}

}  // namespace sievelight
