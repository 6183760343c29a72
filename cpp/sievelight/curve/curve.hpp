// SPDX-License-Identifier: GPL-3.0-or-later
/// A scattering curve and the causes of its error: the value that the whole program passes on.
/// A cause of error has one standard deviation per point (signed) and a kind:
///   private    independent from point to point and from curve to curve (own counts); kept in `private_u`;
///   pointwise  independent from point to point, but the same random numbers in every curve with the same id on the
///              same bins (the counts of a shared background, flat field or dark);
///   coherent   one random number for the whole curve and for every curve with the same id (transmission, thickness,
///              scale of the background, absolute scale, distance, wavelength, beam centre).
/// Covariance within a curve: diag(private^2 + sum pointwise^2) + sum over coherent u u^T.
/// Between curves a and b: over shared ids, diag(u_a u_b) for pointwise and u_a u_b^T for coherent causes.
/// Source: linear propagation of uncertainty with correlated inputs, JCGM 100:2008 (GUM) 5.2.2, written per cause.
/// Start at arithmetic.hpp for sums, differences and scales.
#pragma once

#include <Eigen/Core>
#include <map>
#include <string>
#include <string_view>

namespace sievelight {

enum class CauseKind { pointwise, coherent };

struct Cause {
  CauseKind kind = CauseKind::coherent;
  Eigen::VectorXd u;  // (n) signed, one standard deviation, in the curve's unit
};

enum class IntensityUnit { relative, per_cm, cm2_per_g };

struct Curve {
  Eigen::VectorXd q_per_nm;             // (n) rising
  Eigen::VectorXd intensity;            // (n) in `unit`
  Eigen::VectorXd private_u;            // (n) >= 0, independent part, one standard deviation
  std::map<std::string, Cause> causes;  // id -> shared cause of error
  Eigen::VectorXd q_low_per_nm;         // (n) lower bin edges; empty when the points are not bins
  Eigen::VectorXd q_high_per_nm;        // (n) upper bin edges
  Eigen::VectorXd q_resolution_per_nm;  // (n) one sd of the instrument's blur (never calibration error); may be empty
  Eigen::VectorXd slit_length_per_nm;   // (n) one sd of a slit's length profile (NXcanSAS dQl); empty for a pinhole
  Eigen::VectorXd slit_width_per_nm;    // (n) one sd of its width profile (NXcanSAS dQw); empty for a pinhole
  IntensityUnit unit = IntensityUnit::relative;

  Eigen::Index size() const { return q_per_nm.size(); }
  /// True when the points are smeared along a slit.
  bool has_slit() const { return slit_length_per_nm.size() > 0; }
};

/// Raises InputError unless sizes agree, q is finite, positive and rising, every number is finite
/// (q within 1e-60 and 1e60 1/nm, intensities and errors up to 1e150: their powers stay finite), no uncertainty or
/// resolution is negative, every bin holds its q, and a slit has both length and width.
void check(const Curve& curve);
/// check(), and InputError for a curve smeared along a slit; `law` is what would be read from it.
void check_pinhole(const Curve& curve, std::string_view law);

/// True when both have the same q up to the rounding of a file's digits (1e-9 relative).
bool same_bins(const Curve& a, const Curve& b);
/// InputError when a cause of one id is pointwise in one curve and coherent in the other.
void require_same_kind(const std::string& id, const Cause& a, const Cause& b);
/// InputError unless both are of a pinhole, or both of a slit of one size (1e-6 relative: rounding of a file's digits).
void require_same_slit(const Curve& a, const Curve& b);

/// (n) standard uncertainty without the coherent causes: sqrt(private^2 + sum pointwise^2). NXcanSAS Idev.
Eigen::VectorXd pointwise_u(const Curve& curve);
/// (n) total standard uncertainty: sqrt(pointwise_u^2 + sum coherent^2).
Eigen::VectorXd total_u(const Curve& curve);
/// (n, n) covariance of the intensities.
Eigen::MatrixXd covariance(const Curve& curve);
/// (n_a, n_b) covariance between two curves through the ids they share; a pointwise id where bins are the same
/// (shared_points.hpp).
Eigen::MatrixXd covariance(const Curve& a, const Curve& b);

const char* name(IntensityUnit unit);  // "relative", "1/cm", "cm2/g"
const char* name(CauseKind kind);      // "pointwise", "coherent"

}  // namespace sievelight
