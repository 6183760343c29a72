// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/kernel.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gauss_rule.hpp"
#include "sievelight/base/parallel.hpp"
#include "sievelight/distribution/chebyshev.hpp"
#include "sievelight/distribution/looks.hpp"
#include "sievelight/distribution/tabulated.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace sievelight {
namespace {

constexpr Eigen::Index most_stretches = 6000;

// What one particle scatters, with its neighbours.
Eigen::ArrayXd seen_at(const KernelOptions& o, double q, const Eigen::ArrayXd& size_nm) {
  Eigen::ArrayXd out = form_factors(o.shape, q, size_nm);
  if (o.interaction)
    for (Eigen::Index j = 0; j < out.size(); ++j)
      out[j] *=
          hard_sphere_structure_factor(o.interaction->radius_factor * q * size_nm[j], o.interaction->volume_fraction);
  return out;
}

// The sizes at which a row of the kernel is computed: a Gauss rule in every cell, as fine as q asks for.
struct Cells {
  Eigen::ArrayXd size_nm, at, scale;  // size, its place in the cell, what it counts times the particle's volume
  std::vector<Eigen::Index> first;    // of each cell

  Cells(const SizeGrid& grid, const KernelOptions& o, double q) {
    const double turns = std::max({1.0, o.shape.longest_per_size, o.interaction ? o.interaction->radius_factor : 1.0});
    std::vector<double> sizes, places, weights;
    for (Eigen::Index j = 0; j + 1 < grid.size(); ++j) {
      first.push_back(static_cast<Eigen::Index>(sizes.size()));
      const GaussRule& cell = gauss_rule(points_for(q * grid.diameter_nm[j] * turns * grid.step, 4));
      for (std::size_t c = 0; c < cell.at.size(); ++c) {
        sizes.push_back(grid.diameter_nm[j] * std::exp(cell.at[c] * grid.step));
        places.push_back(cell.at[c]);
        weights.push_back(cell.weight[c] * grid.step * o.shape.volume_nm3(sizes.back()));
      }
    }
    first.push_back(static_cast<Eigen::Index>(sizes.size()));
    const auto n = static_cast<Eigen::Index>(sizes.size());
    size_nm = Eigen::Map<Eigen::ArrayXd>(sizes.data(), n);
    at = Eigen::Map<Eigen::ArrayXd>(places.data(), n);
    scale = Eigen::Map<Eigen::ArrayXd>(weights.data(), n);
  }

  // Onto the hats left and right of each cell.
  template <typename Row>
  void fold(const Eigen::ArrayXd& seen, Row&& row) const {
    for (std::size_t j = 0; j + 1 < first.size(); ++j) {
      double left = 0, right = 0;
      for (Eigen::Index c = first[j]; c < first[j + 1]; ++c) {
        const double all = seen[c] * scale[c];
        left += (1 - at[c]) * all;
        right += at[c] * all;
      }
      row(static_cast<Eigen::Index>(j)) += left;
      row(static_cast<Eigen::Index>(j) + 1) += right;
    }
  }
};

void check(const Curve& curve, const KernelOptions& o) {
  check(curve);
  if (curve.has_slit() && !o.slit)
    throw InputError(
        "the curve was measured with a slit; sizes from a kernel without it would be wrong.",
        "Give the profile of the slit, so that it is folded into the kernel, or use the curve of a pinhole.");
  if (!(o.power_exponent >= 3 && o.power_exponent <= 4))
    throw InputError(fmt::format("the exponent of the power law is {}.", o.power_exponent),
                     "Give 4 for smooth surfaces, down to 3 for rough ones.");
  if (!o.interaction) return;
  check(*o.interaction);
  if (!o.shape.packs_as_spheres)
    throw InputError(fmt::format("hard-sphere interference was asked for with a {}.", o.shape.name),
                     "Use spheres, core-shell spheres or spheroids with it, or no interaction.");
}

// A power law near the beam, where blur and width reach q = 0, is that of a fifth of the point's q.
double power_law(double q, double q_of_point, double exponent) {
  return std::pow(std::max(q, 0.2 * q_of_point), -exponent);
}

void fill(const Curve& curve, const KernelOptions& o, const std::vector<Looks>& bins, Kernel& out) {
  parallel_for(static_cast<std::size_t>(curve.size()), [&](std::size_t row) {
    const auto i = static_cast<Eigen::Index>(row);
    const Looks& q = bins[row];
    const Cells cells(out.grid, o, curve.q_per_nm[i]);
    Eigen::ArrayXd seen = Eigen::ArrayXd::Zero(cells.size_nm.size());
    for (std::size_t k = 0; k < q.at.size(); ++k) {
      out.power_law[i] += q.weight[k] * power_law(q.at[k], curve.q_per_nm[i], o.power_exponent);
      seen += q.weight[k] * seen_at(o, q.at[k], cells.size_nm);
    }
    cells.fold(seen, out.volume_nm3.row(i));
  });
}

// A slit looks at thousands of q for each point: the rows are computed on Chebyshev points in q and read from there.
void fill_through_slit(const Curve& curve, const KernelOptions& o, const std::vector<Looks>& bins,
                       const SlitLooks& slit, double longest_nm, Kernel& out) {
  double low = curve.q_per_nm[0], high = 0;
  for (const Looks& bin : bins)
    for (const double q : bin.at) {
      low = std::min(low, slit.lowest_per_nm(q));
      high = std::max(high, slit.highest_per_nm(q));
    }
  // The structure factor has poles beside the real axis, about half a radian away where it is steep.
  const double largest_nm = out.grid.diameter_nm[out.grid.size() - 1];
  const double step =
      std::min(6.0 / longest_nm, o.interaction ? 0.8 / (o.interaction->radius_factor * largest_nm) : 1e300);
  const auto stretches = static_cast<Eigen::Index>(std::ceil((high - low) / step)) + 1;
  if (stretches > most_stretches)
    throw InputError(fmt::format("through this slit the curve is made of q up to {:.3g} 1/nm, in which particles of "
                                 "{:.4g} nm oscillate {:.0f} times.",
                                 high, longest_nm, high * longest_nm / 6.28),
                     "Narrow the size window or give a shorter length or width of the shape.");
  const ChebyshevStretches fine(low, high, stretches);
  Eigen::MatrixXd rows = Eigen::MatrixXd::Zero(out.grid.size(), fine.size());
  parallel_for(static_cast<std::size_t>(fine.size()), [&](std::size_t f) {
    const auto i = static_cast<Eigen::Index>(f);
    const Cells cells(out.grid, o, fine.point(i));
    cells.fold(seen_at(o, fine.point(i), cells.size_nm), rows.col(i));
  });
  parallel_for(static_cast<std::size_t>(curve.size()), [&](std::size_t row) {
    const auto i = static_cast<Eigen::Index>(row);
    Eigen::VectorXd share = Eigen::VectorXd::Zero(fine.size());
    ChebyshevStretches::Shares each;
    for (std::size_t k = 0; k < bins[row].at.size(); ++k)
      slit.visit(bins[row].at[k], [&](double q, double weight) {
        const Eigen::Index first = fine.shares(q, each);
        share.segment<ChebyshevStretches::points_each>(first).array() += bins[row].weight[k] * weight * each;
        out.power_law[i] += bins[row].weight[k] * weight * power_law(q, curve.q_per_nm[i], o.power_exponent);
      });
    out.volume_nm3.row(i) = (rows * share).transpose();
  });
}

}  // namespace

Kernel make_kernel(const Curve& curve, const SizeGrid& grid, const KernelOptions& options) {
  check(curve, options);
  Kernel out{grid,
             options.shape.name,
             curve.q_per_nm,
             Eigen::MatrixXd::Zero(curve.size(), grid.size()),
             Eigen::VectorXd::Zero(curve.size()),
             options};
  const double largest_nm = grid.diameter_nm[grid.size() - 1];
  const double longest_nm = options.shape.longest_per_size * largest_nm + options.shape.longest_nm;
  gauss_rule(1);  // built before the threads start
  std::optional<SlitLooks> slit;
  if (options.slit) slit.emplace(*options.slit, longest_nm);
  std::vector<Looks> bins;
  double highest = 0;
  for (Eigen::Index i = 0; i < curve.size(); ++i) {
    bins.push_back(bin_looks(curve, i, longest_nm, !slit, slit ? slit->width_per_nm(curve.q_per_nm[i]) : 0.0));
    for (const double q : bins.back().at) highest = std::max(highest, slit ? slit->highest_per_nm(q) : q);
  }
  KernelOptions used = options;
  if (options.shape.tabulate) used.shape = tabulated(options.shape, highest * largest_nm * (1 + 1e-9));
  if (slit)
    fill_through_slit(curve, used, bins, *slit, longest_nm, out);
  else
    fill(curve, used, bins, out);
  return out;
}

Kernel make_kernel(const Curve& curve, const SizeGrid& grid, const Shape& shape) {
  KernelOptions options;
  options.shape = shape;
  return make_kernel(curve, grid, options);
}

std::string model_in_words(const KernelOptions& o) {
  const std::string shape = o.shape.name == "sphere" ? "spheres" : o.shape.name;
  return o.interaction ? fmt::format("{} with hard-sphere interference", shape) : "dilute " + shape;
}

bool fits(const Kernel& kernel, const Curve& curve) { return kernel.q_per_nm == curve.q_per_nm; }

Eigen::VectorXd scattering_per_cm(const Kernel& kernel, const Eigen::VectorXd& x, double contrast_per_cm2) {
  if (x.size() != kernel.grid.size())
    throw InputError(
        fmt::format("the distribution has {} values but the kernel has {} sizes.", x.size(), kernel.grid.size()),
        "Give the volume fraction per ln D at each of the kernel's diameters.");
  const double factor = contrast_per_cm2 > 0 ? contrast_factor(contrast_per_cm2) : 1.0;
  return factor * (kernel.volume_nm3 * x);
}

}  // namespace sievelight
