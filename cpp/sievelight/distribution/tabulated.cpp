// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/tabulated.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gauss_rule.hpp"
#include "sievelight/base/parallel.hpp"
#include "sievelight/distribution/chebyshev.hpp"
#include "sievelight/reduce/slit_rule.hpp"

#include <fmt/format.h>

#include <memory>

namespace sievelight {

Shape tabulated(const Shape& shape, double largest) {
  const auto stretches = static_cast<Eigen::Index>(std::ceil(largest * shape.longest_per_size / 6.0)) + 1;
  const auto grid = std::make_shared<const ChebyshevStretches>(0.0, largest, stretches);
  const auto value = std::make_shared<Eigen::ArrayXd>(grid->size());
  gauss_rule(1);  // built before the threads start
  parallel_for(static_cast<std::size_t>(stretches), [&](std::size_t s) {
    const Eigen::Index first = static_cast<Eigen::Index>(s) * ChebyshevStretches::points_each;
    for (Eigen::Index i = first; i < first + ChebyshevStretches::points_each; ++i)
      (*value)[i] = shape.form_factor(grid->point(i), 1.0);
  });
  Shape out = shape;
  out.tabulate = false;
  out.form_factor = [grid, value](double q, double size) {
    const double x = q * size;
    if (!(x <= grid->high() * (1 + 1e-12)))
      throw InputError(fmt::format("q times size is {:.6g} but the table ends at {:.6g}.", x, grid->high()),
                       "Make the table for the largest q and size.");
    ChebyshevStretches::Shares share;
    const Eigen::Index first = grid->shares(x, share);
    return (share * value->segment<ChebyshevStretches::points_each>(first)).sum();
  };
  return out;
}

}  // namespace sievelight
