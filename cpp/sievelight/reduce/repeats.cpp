// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/repeats.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/holm.hpp"
#include "sievelight/reduce/repeat_tests.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// What all exposures hold on their common bins.
struct Common {
  VectorXd high_per_nm;                         // upper edge
  MatrixXd counts, dark_counts, normalisation;  // (exposures, bins)
};

Common common(const std::vector<const Averaged*>& exposures) {
  std::map<int, std::vector<Index>> points;  // bin -> its point in each exposure so far
  for (std::size_t k = 0; k < exposures.size(); ++k)
    for (Index i = 0; i < exposures[k]->bin.size(); ++i) {
      auto& at = points[exposures[k]->bin[i]];
      if (at.size() == k) at.push_back(i);
    }
  std::erase_if(points, [&](const auto& entry) { return entry.second.size() != exposures.size(); });
  if (points.empty())
    throw InputError(fmt::format("the {} exposures have no bin in common.", exposures.size()),
                     "Average them on the same edges with the same mask.");
  const auto n = static_cast<Index>(points.size()), rows = static_cast<Index>(exposures.size());
  Common out{VectorXd(n), MatrixXd(rows, n), MatrixXd(rows, n), MatrixXd(rows, n)};
  Index column = 0;
  for (const auto& [bin, at] : points) {
    for (Index k = 0; k < rows; ++k) {
      const Averaged& a = *exposures[static_cast<std::size_t>(k)];
      const Index i = at[static_cast<std::size_t>(k)];
      if (k == 0) out.high_per_nm[column] = a.curve.q_high_per_nm[i];
      if (a.curve.q_high_per_nm[i] != out.high_per_nm[column])
        throw InputError(fmt::format("bin {} ends at {} 1/nm in '{}' and at {} 1/nm in '{}'.", bin,
                                     a.curve.q_high_per_nm[i], a.name, out.high_per_nm[column], exposures[0]->name),
                         "Average all exposures on the same edges.");
      out.counts(k, column) = std::round(a.counts[i]);
      out.dark_counts(k, column) = a.dark_counts[i];
      out.normalisation(k, column) = a.normalisation[i];
    }
    ++column;
  }
  if (!(out.counts.sum() > 0))
    throw InputError(fmt::format("the {} exposures hold no counts.", exposures.size()), "Count longer.");
  return out;
}

double scatter_of_normalisation(const std::vector<const Averaged*>& exposures) {
  double largest = 0.0;
  for (const Averaged* a : exposures)
    for (const char* word : {"exposure: ", "monitor: "}) {
      const auto cause = a->curve.causes.find(word + a->name);
      if (cause == a->curve.causes.end()) continue;
      Index i = 0;
      const double top = a->curve.intensity.cwiseAbs().maxCoeff(&i);
      if (top > 0) largest = std::max(largest, std::abs(cause->second.u[i]) / top);
    }
  return largest;
}

// The shares of some exposures, from the pooled intensity of each bin (which looks at the bin's sum alone).
RepeatCounts pick(const Common& c, const std::vector<Index>& active, double scale_relative_u) {
  RepeatCounts d{c.counts(active, Eigen::all), c.normalisation(active, Eigen::all), scale_relative_u};
  const MatrixXd dark = c.dark_counts(active, Eigen::all);
  for (Index i = 0; i < d.share.cols(); ++i) {
    const double pooled = std::max(0.0, (d.counts.col(i).sum() - dark.col(i).sum()) / d.share.col(i).sum());
    const VectorXd expected = pooled * d.share.col(i) + dark.col(i);
    if (expected.sum() > 0)
      d.share.col(i) = expected / expected.sum();
    else
      d.share.col(i) /= d.share.col(i).sum();
  }
  return d;
}

Index low_bins_of(const Common& c) {
  const VectorXd total = c.counts.colwise().sum();
  double sum = 0.0;
  for (Index i = 0; i + 1 < total.size(); ++i) {
    sum += total[i];
    if (sum >= 0.5 * total.sum()) return i + 1;
  }
  return std::max<Index>(1, total.size() - 1);
}

// One look at the exposures that are still kept. Evidence: -ln p, or half the statistic where p is too small to hold.
struct Round {
  std::vector<RepeatTest> tests;
  std::optional<RepeatTrend> scale, low;
  std::vector<double> evidence;
  double trend_evidence = 0.0;
  bool claimed = false;
};

double evidence(double p, double statistic) { return p > 1e-300 ? -std::log(p) : std::max(690.0, 0.5 * statistic); }

RepeatTrend words(const TrendTest& t) { return {100 * t.change, 100 * t.u, t.probability, 1.0, false}; }

Round look(const RepeatCounts& d, const std::vector<std::string>& names, Index low_bins, double alpha) {
  Round out;
  const Index exposures = d.counts.rows();
  // Two exposures make one test, not two of the same.
  const Index tested = exposures == 2 ? 1 : exposures;
  std::vector<double> p;
  for (Index k = 0; k < exposures; ++k) {
    const ScaleTest scale = test_scale(d, k);
    const ShapeTest shape = test_shape(d, k);
    out.tests.push_back({names[static_cast<std::size_t>(k)], scale.scale, scale.scale * scale.u, scale.probability,
                         shape.chi2, shape.degrees_of_freedom, shape.probability});
    out.evidence.push_back(
        std::max(evidence(scale.probability, scale.z * scale.z), evidence(shape.probability, shape.chi2)));
    if (k >= tested) continue;
    p.push_back(scale.probability);
    p.push_back(shape.probability);
  }
  if (exposures > 2) {
    const TrendTest scale = test_scale_trend(d), low = test_low_trend(d, low_bins);
    p.push_back(scale.probability);
    p.push_back(low.probability);
    out.scale = words(scale);
    out.low = words(low);
  }
  const HolmResult claims = holm(p, alpha);
  for (Index k = 0; k < exposures; ++k) {
    RepeatTest& t = out.tests[static_cast<std::size_t>(k)];
    const auto at = static_cast<std::size_t>(2 * std::min(k, tested - 1));
    t.adjusted_probability = std::min(claims.adjusted[at], claims.adjusted[at + 1]);
    t.differs = claims.claimed[at] || claims.claimed[at + 1];
    out.claimed = out.claimed || t.differs;
  }
  if (exposures > 2)
    for (int i = 0; i < 2; ++i) {
      RepeatTrend& t = i == 0 ? *out.scale : *out.low;
      t.adjusted_probability = claims.adjusted[p.size() - 2 + static_cast<std::size_t>(i)];
      t.claimed = claims.claimed[p.size() - 2 + static_cast<std::size_t>(i)];
      out.claimed = out.claimed || t.claimed;
      const double z = t.change_percent / std::max(t.u_percent, 1e-300);
      if (t.claimed) out.trend_evidence = std::max(out.trend_evidence, evidence(t.probability, z * z));
    }
  return out;
}

std::string evidence_of(const RepeatTest& t) {
  return fmt::format(
      "its scale is {:.4g} ± {:.2g} of the others (p {:.2g}), its shape has chi2 {:.4g} for {:.3g} degrees "
      "of freedom (p {:.2g})",
      t.scale, t.scale_u, t.scale_probability, t.chi2, t.degrees_of_freedom, t.shape_probability);
}

void report_trends(const Round& r, double low_q_below, std::vector<std::string>& findings) {
  if (r.scale && r.scale->claimed)
    findings.push_back(
        fmt::format("the intensity drifts with the number of the exposure, by {:+.2g} ± {:.1g} % from first to last (p "
                    "{:.2g} after "
                    "Holm): beam, transmission or sample",
                    r.scale->change_percent, r.scale->u_percent, r.scale->adjusted_probability));
  if (r.low && r.low->claimed)
    findings.push_back(
        fmt::format("the part below {:.3g} 1/nm changes relative to the rest, by {:+.2g} ± {:.1g} % from first to last "
                    "(p {:.2g} after "
                    "Holm): radiation damage, growth or settling; use the first exposures only, or a shorter dose",
                    low_q_below, r.low->change_percent, r.low->u_percent, r.low->adjusted_probability));
}

}  // namespace

RepeatReport compare_repeats(const std::vector<const Averaged*>& exposures, const RepeatOptions& options) {
  if (exposures.size() < 2)
    throw InputError(fmt::format("{} exposure was given to compare.", exposures.size()),
                     "Give two or more averaged exposures of one sample; three or more can say which one is wrong.");
  if (!(options.alpha > 0) || !(options.alpha < 1))
    throw InputError(fmt::format("alpha is {}.", options.alpha), "Give it between 0 and 1; 0.01 is usual.");
  const Common data = common(exposures);
  const double scatter = options.scale_relative_u.value_or(scatter_of_normalisation(exposures));
  if (!(scatter >= 0) || !std::isfinite(scatter))
    throw InputError(fmt::format("the relative scatter of the normalisation is {}.", scatter), "Give zero or more.");
  const Index low_bins = low_bins_of(data);
  RepeatReport out;
  out.alpha = options.alpha;
  out.low_q_below_per_nm = data.high_per_nm[low_bins - 1];
  out.exposures.resize(exposures.size());
  std::vector<Index> active(exposures.size());
  for (std::size_t k = 0; k < active.size(); ++k) active[k] = static_cast<Index>(k);

  for (;;) {
    std::vector<std::string> names;
    for (const Index k : active) names.push_back(exposures[static_cast<std::size_t>(k)]->name);
    const Round r = look(pick(data, active, scatter), names, low_bins, options.alpha);
    for (std::size_t i = 0; i < active.size(); ++i) out.exposures[static_cast<std::size_t>(active[i])] = r.tests[i];
    out.scale_trend = r.scale;
    out.low_q_trend = r.low;
    if (!r.claimed) break;
    out.agree = false;
    if (active.size() == 2) {
      out.findings.push_back(
          fmt::format("exposures {} ('{}') and {} ('{}') differ, and two cannot say which is wrong: {}", active[0],
                      names[0], active[1], names[1], evidence_of(r.tests[0])));
      break;
    }
    std::size_t worst = active.size();
    for (std::size_t i = 0; i < active.size(); ++i)
      if (r.tests[i].differs && (worst == active.size() || r.evidence[i] > r.evidence[worst])) worst = i;
    if (worst == active.size() || r.trend_evidence >= r.evidence[worst]) {
      report_trends(r, out.low_q_below_per_nm, out.findings);
      break;
    }
    // Those that are left must outnumber those set aside.
    if (2 * (out.set_aside.size() + 1) >= exposures.size()) {
      out.findings.push_back(
          fmt::format("no majority of the {} exposures agrees; the next to differ would be exposure {} ('{}'): {}",
                      exposures.size(), active[worst], names[worst], evidence_of(r.tests[worst])));
      break;
    }
    const auto index = static_cast<std::size_t>(active[worst]);
    out.exposures[index].set_aside = true;
    out.set_aside.push_back(static_cast<int>(index));
    out.findings.push_back(
        fmt::format("exposure {} ('{}') differs from the others and should be set aside: {}; p {:.2g} after Holm",
                    index, names[worst], evidence_of(r.tests[worst]), r.tests[worst].adjusted_probability));
    active.erase(active.begin() + static_cast<std::ptrdiff_t>(worst));
  }
  return out;
}

}  // namespace sievelight
