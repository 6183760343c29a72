// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/least_squares.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gsl.hpp"

#include <fmt/format.h>
#include <gsl/gsl_multifit_nlinear.h>

#include <Eigen/QR>
#include <limits>
#include <memory>

namespace sievelight {
namespace {

using Eigen::Index;
using Residual = std::function<Eigen::VectorXd(const Eigen::VectorXd&)>;

struct Problem {
  const Residual& residual;
  const LeastSquaresOptions& options;
};

Eigen::VectorXd from_gsl(const gsl_vector* x) {
  Eigen::VectorXd out(static_cast<Index>(x->size));
  for (std::size_t k = 0; k < x->size; ++k) out[static_cast<Index>(k)] = gsl_vector_get(x, k);
  return out;
}

int residual_of(const gsl_vector* x, void* data, gsl_vector* f) {
  const Eigen::VectorXd r = static_cast<const Problem*>(data)->residual(from_gsl(x));
  if (r.size() != static_cast<Index>(f->size) || !r.allFinite()) return GSL_EBADFUNC;
  // GSL hands out columns of its Jacobian: the stride is not 1.
  for (std::size_t k = 0; k < f->size; ++k) gsl_vector_set(f, k, r[static_cast<Index>(k)]);
  return GSL_SUCCESS;
}

int jacobian_of(const gsl_vector* x, void* data, gsl_matrix* j) {
  const Eigen::MatrixXd all = static_cast<const Problem*>(data)->options.jacobian(from_gsl(x));
  for (std::size_t r = 0; r < j->size1; ++r)
    for (std::size_t c = 0; c < j->size2; ++c)
      gsl_matrix_set(j, r, c, all(static_cast<Index>(r), static_cast<Index>(c)));
  return GSL_SUCCESS;
}

}  // namespace

Eigen::MatrixXd LeastSquaresFit::covariance() const {
  const Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr(jacobian);
  const Index k = jacobian.cols();
  if (qr.rank() < k) return Eigen::MatrixXd::Constant(k, k, std::numeric_limits<double>::quiet_NaN());
  const Eigen::MatrixXd inverse =
      qr.matrixR().topLeftCorner(k, k).triangularView<Eigen::Upper>().solve(Eigen::MatrixXd::Identity(k, k));
  const Eigen::MatrixXd spread = qr.colsPermutation() * inverse;
  return spread * spread.transpose();
}

LeastSquaresFit minimise_squares(const Residual& residual, const Eigen::VectorXd& start,
                                 const LeastSquaresOptions& options) {
  quiet_gsl();
  const auto n = static_cast<std::size_t>(residual(start).size()), k = static_cast<std::size_t>(start.size());
  if (k == 0 || n < k)
    throw InputError(fmt::format("{} numbers cannot be fitted to {} points.", k, n), "Use more points.");
  gsl_multifit_nlinear_fdf fdf{};
  fdf.f = &residual_of;
  fdf.n = n;
  fdf.p = k;
  Problem problem{residual, options};
  if (options.jacobian) fdf.df = &jacobian_of;
  fdf.params = &problem;
  gsl_multifit_nlinear_parameters how = gsl_multifit_nlinear_default_parameters();
  how.h_df = options.difference_step;
  how.fdtype = GSL_MULTIFIT_NLINEAR_CTRDIFF;
  const std::unique_ptr<gsl_multifit_nlinear_workspace, decltype(&gsl_multifit_nlinear_free)> work(
      gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &how, n, k), gsl_multifit_nlinear_free);
  Eigen::VectorXd x = start;
  const gsl_vector_view view = gsl_vector_view_array(x.data(), k);
  check_gsl(gsl_multifit_nlinear_init(&view.vector, &fdf, work.get()), "least-squares fit");
  int info = 0;
  const int status = gsl_multifit_nlinear_driver(static_cast<std::size_t>(options.most_steps), options.tolerance,
                                                 options.tolerance, 0.0, nullptr, nullptr, &info, work.get());
  LeastSquaresFit out;
  out.parameters = from_gsl(gsl_multifit_nlinear_position(work.get()));
  const gsl_matrix* jac = gsl_multifit_nlinear_jac(work.get());
  out.jacobian.resize(static_cast<Index>(n), static_cast<Index>(k));
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t j = 0; j < k; ++j)
      out.jacobian(static_cast<Index>(i), static_cast<Index>(j)) = gsl_matrix_get(jac, i, j);
  out.chi2 = residual(out.parameters).squaredNorm();
  // "No progress" is the floor of the arithmetic: as far down as it goes.
  out.converged = status == GSL_SUCCESS || status == GSL_ENOPROG;
  return out;
}

}  // namespace sievelight
