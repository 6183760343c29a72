// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/tail_comparison.hpp"

#include "sievelight/analysis/weights.hpp"
#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

std::string describe(const TailLaw& law) {
  std::string out = law.walls == Walls::smooth ? "smooth walls" : "sharp walls";
  switch (law.background) {
    case TailBackground::flat:
      return out + ", flat background";
    case TailBackground::square:
      return out + ", background B + F q^2";
    case TailBackground::fourth:
      return out + ", background B + F q^4";
    case TailBackground::exponential:
      return out + ", background B exp(b q^2)";
  }
  return out;
}

void find(TailComparison& out) {
  const TailCandidate& best = out.candidates.front();
  out.findings.push_back(fmt::format("The tail asks for {} (share {:.2f}).", describe(best.fit.law), best.share));
  if (!best.fit.law_holds)
    out.findings.push_back("Not even this law holds over the window: none of these laws is the tail's.");
  double low = best.fit.constant.value, high = low;
  for (const TailCandidate& c : out.candidates)
    if (c.share > 0.05) low = std::min(low, c.fit.constant.value), high = std::max(high, c.fit.constant.value);
  if (high - low > 2.0 * best.fit.constant.u)
    out.findings.push_back(fmt::format(
        "Laws that the curve does not tell apart put K between {:.4g} and {:.4g}: use the average, {:.4g} ± "
        "{:.2g}, or measure further.",
        low, high, out.constant.value, out.constant.u));
}

}  // namespace

TailComparison compare_tail_laws(const Curve& curve, Range range, double law_tolerance) {
  check_pinhole(curve, "a comparison of tails");
  TailComparison out;
  for (const Walls walls : {Walls::sharp, Walls::smooth})
    for (const TailBackground background :
         {TailBackground::flat, TailBackground::square, TailBackground::fourth, TailBackground::exponential}) {
      try {
        out.candidates.push_back({fit_porod(
            curve,
            {.q_range_per_nm = range, .law_tolerance = law_tolerance, .background = background, .walls = walls})});
      } catch (const NumericalError&) {
        continue;  // these points do not give the law's numbers: no place in the table; the plain law, linear, has one
      }
    }
  if (out.candidates.empty())
    throw NumericalError("no law can be fitted to the tail.", "Check the curve for wild points.");
  const PorodFit& plain = out.candidates.front().fit;
  const Eigen::Index first = plain.first, m = plain.points;
  if (m < 12)
    throw InputError(fmt::format("{} points lie in the range; laws of five numbers need 12 to be told apart.", m),
                     "Widen q_range_per_nm, or reduce the frames onto more q bins.");
  const PointWeights weights = point_weights(curve);
  const Eigen::ArrayXd q = curve.q_per_nm.segment(first, m), noise = weights.smooth.segment(first, m);
  const Eigen::VectorXd intensity = curve.intensity.segment(first, m);
  // One variance for all; its tolerance from the law that leaves the least.
  double least = 0.0, k = plain.constant.value;
  for (TailCandidate& c : out.candidates) {
    c.chi2 = (fit_tail(q, intensity, noise, c.fit.law).residual.square() / noise).sum();
    if (least == 0.0 || c.chi2 < least) least = c.chi2, k = c.fit.constant.value;
  }
  const Eigen::ArrayXd variance = noise + (law_tolerance * k * q.pow(-4)).square();
  const double points = static_cast<double>(m);
  double lowest = 0.0;
  for (std::size_t i = 0; i < out.candidates.size(); ++i) {
    TailCandidate& c = out.candidates[i];
    c.chi2 = (fit_tail(q, intensity, variance, c.fit.law).residual.square() / variance).sum();
    const double misfit = weights.known ? c.chi2 : points * std::log(std::max(c.chi2, 1e-300) / points);
    c.criterion = misfit + (2.0 + c.fit.law.extra()) * std::log(points);
    lowest = i == 0 ? c.criterion : std::min(lowest, c.criterion);
  }
  double sum = 0.0, mean = 0.0, square = 0.0;
  for (TailCandidate& c : out.candidates) {
    c.criterion -= lowest;
    c.share = std::exp(-0.5 * c.criterion);
    sum += c.share;
  }
  for (TailCandidate& c : out.candidates) {
    c.share /= sum;
    mean += c.share * c.fit.constant.value;
  }
  for (const TailCandidate& c : out.candidates)
    square += c.share * (std::pow(c.fit.constant.u, 2) + std::pow(c.fit.constant.value - mean, 2));
  out.constant = Estimate::normal(mean, std::sqrt(square));
  std::stable_sort(out.candidates.begin(), out.candidates.end(),
                   [](const TailCandidate& a, const TailCandidate& b) { return a.criterion < b.criterion; });
  find(out);
  return out;
}

}  // namespace sievelight
