// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/distribution_io.hpp"

#include "sievelight/base/hdf5_bytes.hpp"
#include "sievelight/base/version.hpp"
#include "sievelight/base/write_whole.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <utility>

namespace sievelight {
namespace {

using Column = std::pair<std::string, const Eigen::VectorXd*>;

// A plot: one signal over one axis, the rest as auxiliary signals in the same unit.
H5Handle write_plot(hid_t entry, const std::string& name, const std::string& title, const std::string& axis,
                    const Eigen::VectorXd& axis_values, const std::string& axis_units,
                    const std::vector<Column>& columns, const std::string& units) {
  H5Handle data = h5_make_group(entry, name, "NXdata");
  h5_write_attribute(data.get(), "signal", columns.front().first);
  std::vector<std::string> others;
  for (std::size_t k = 1; k < columns.size(); ++k) others.push_back(columns[k].first);
  h5_write_attribute(data.get(), "auxiliary_signals", others);
  h5_write_attribute(data.get(), "axes", std::vector<std::string>{axis});
  h5_write_attribute(data.get(), axis + "_indices", 0);
  h5_write_text(data.get(), "title", title);
  h5_write(data.get(), axis, axis_values, axis_units);
  for (const auto& [label, values] : columns) h5_write(data.get(), label, *values, units);
  return data;
}

void write_estimate(hid_t where, const std::string& name, const Estimate& e, const std::string& units) {
  const H5Handle group = h5_make_group(where, name, "NXcollection");
  h5_write(group.get(), "value", e.value, units);
  h5_write(group.get(), "standard_uncertainty", e.u, units);
  h5_write(group.get(), "low68", e.band68.low, units);
  h5_write(group.get(), "high68", e.band68.high, units);
  h5_write(group.get(), "low95", e.band95.low, units);
  h5_write(group.get(), "high95", e.band95.high, units);
}

void write_summary(hid_t entry, const SizeDistribution& d) {
  const H5Handle group = h5_make_group(entry, "summary", "NXcollection");
  write_estimate(group.get(), "x10_nm", d.x10_nm, "nm");
  write_estimate(group.get(), "x50_nm", d.x50_nm, "nm");
  write_estimate(group.get(), "x90_nm", d.x90_nm, "nm");
  write_estimate(group.get(), "mean_nm", d.mean_nm, "nm");
  write_estimate(group.get(), "relative_width", d.relative_width, "");
  write_estimate(group.get(), "phi_one_minus_phi", d.phi_one_minus_phi, "");
  write_estimate(group.get(), "volume_fraction", d.volume_fraction, "");
  write_estimate(group.get(), "specific_surface_m2_per_cm3", d.specific_surface_m2_per_cm3, "m^2/cm^3");
  write_estimate(group.get(), "surface_mean_nm", d.surface_mean_nm, "nm");
  write_estimate(group.get(), "number_mean_nm", d.number_mean_nm, "nm");
  write_estimate(group.get(), "pore_chord_nm", d.pore_chord_nm, "nm");
  write_estimate(group.get(), "rg_nm", d.rg_nm, "nm");
  write_estimate(group.get(), "number_per_cm3", d.number_per_cm3, "1/cm^3");
  write_estimate(group.get(), "micropore_share", d.micropore_share, "");
  write_estimate(group.get(), "mesopore_share", d.mesopore_share, "");
  write_estimate(group.get(), "macropore_share", d.macropore_share, "");
  write_estimate(group.get(), "background", d.background, d.intensity_unit);
  write_estimate(group.get(), "power_law_k", d.power_law_k,
                 fmt::format("{}/nm^{:g}", d.intensity_unit, d.power_exponent));
  h5_write(group.get(), "power_exponent", d.power_exponent);
  for (const auto& [name, estimate] : d.also_fitted)
    write_estimate(group.get(), name == "power_exponent" ? "fitted_power_exponent" : name, estimate, "");
  h5_write(group.get(), "modes_nm", d.modes_nm, "nm");
  h5_write(group.get(), "probability_two_modes", d.probability_two_modes);
  h5_write(group.get(), "chi2_per_point", d.chi2_per_point);
  h5_write(group.get(), "noise_scale", d.noise_scale);
  h5_write(group.get(), "runs_probability", d.runs_probability);
  h5_write(group.get(), "effective_parameters", d.effective_parameters);
  h5_write(group.get(), "outside_share", d.outside_share);
}

void write_process(hid_t entry, const SizeDistribution& d) {
  const H5Handle group = h5_make_group(entry, "process", "NXprocess");
  h5_write_text(group.get(), "program", "sievelight");
  h5_write_text(group.get(), "version", SIEVELIGHT_VERSION);
  h5_write_text(group.get(), "method", d.method);
  h5_write_text(group.get(), "shape", d.shape);
  h5_write_text(group.get(), "assumptions", fmt::format("{}", fmt::join(d.notes, "\n")));
  h5_write_text(group.get(), "weighting", "volume (q3, ISO 9276-1); the size is named under assumptions");
  h5_write_text(group.get(), "root", d.root);
  h5_write(group.get(), "smoothing_ln_d", d.smoothing_ln_d);
  h5_write(group.get(), "size_window_low_nm", d.window_nm.low, "nm");
  h5_write(group.get(), "size_window_high_nm", d.window_nm.high, "nm");
  h5_write_text(group.get(), "converged", d.converged ? "yes" : "no");
  for (const auto& [name, e] : d.ln_strength) write_estimate(group.get(), "ln_strength_" + name, e, "");
  const H5Handle note = h5_make_group(group.get(), "warnings", "NXnote");
  h5_write_text(note.get(), "data", fmt::format("{}", fmt::join(d.warnings, "\n")));
  h5_write_text(note.get(), "type", "text/plain");
}

}  // namespace

void write_distribution(const std::string& path, const SizeDistribution& d, const DistributionInfo& info) {
  const auto lock = hdf5_lock();
  const H5Handle file = h5_in_memory();
  h5_write_attribute(file.get(), "NX_class", "NXroot");
  h5_write_attribute(file.get(), "default", "entry");
  const H5Handle entry = h5_make_group(file.get(), "entry", "NXentry");
  h5_write_attribute(entry.get(), "default", "distribution");
  h5_write_text(entry.get(), "title", info.title);
  write_plot(entry.get(), "distribution",
             fmt::format("Volume-weighted size density, smoothed by {:g} in ln D", d.smoothing_ln_d), "diameter_nm",
             d.diameter_nm, "nm",
             {{"q3_per_nm", &d.q3_per_nm},
              {"q3_low68", &d.q3_low68},
              {"q3_high68", &d.q3_high68},
              {"q3_low95", &d.q3_low95},
              {"q3_high95", &d.q3_high95}},
             "1/nm");
  for (const auto& [weight, band] : d.weighted)
    write_plot(entry.get(), "distribution_by_" + weight,
               fmt::format("Density weighted by {}, smoothed by {:g} in ln D", weight, d.smoothing_ln_d), "diameter_nm",
               d.diameter_nm, "nm",
               {{"density_per_nm", &band.median},
                {"low68", &band.low68},
                {"high68", &band.high68},
                {"low95", &band.low95},
                {"high95", &band.high95}},
               "1/nm");
  write_plot(entry.get(), "cumulative", "Cumulative volume Q3", "diameter_nm", d.diameter_nm, "nm",
             {{"cumulative", &d.cumulative},
              {"cumulative_low68", &d.cumulative_low68},
              {"cumulative_high68", &d.cumulative_high68},
              {"cumulative_low95", &d.cumulative_low95},
              {"cumulative_high95", &d.cumulative_high95}},
             "");
  const H5Handle fit = write_plot(entry.get(), "fit", "Measured curve and fit", "q_per_nm", d.q_per_nm, "1/nm",
                                  {{"measured", &d.measured},
                                   {"fit", &d.fit},
                                   {"fit_low68", &d.fit_low68},
                                   {"fit_high68", &d.fit_high68},
                                   {"fit_low95", &d.fit_low95},
                                   {"fit_high95", &d.fit_high95}},
                                  d.intensity_unit);
  h5_write(fit.get(), "residual", d.residual);
  const H5Handle resolution = h5_make_group(entry.get(), "resolution", "NXdata");
  h5_write_attribute(resolution.get(), "signal", "resolution_kernel");
  h5_write_attribute(resolution.get(), "axes", std::vector<std::string>{"diameter_nm", "diameter_present_nm"});
  h5_write_text(resolution.get(), "title",
                "Response of the reported volume per ln D to volume present at another size");
  h5_write(resolution.get(), "diameter_nm", d.diameter_nm, "nm");
  h5_write(resolution.get(), "diameter_present_nm", d.diameter_nm, "nm");
  h5_write(resolution.get(), "resolution_kernel", d.resolution_kernel);
  h5_write(resolution.get(), "resolution_ln_d", d.resolution_ln_d);
  write_summary(entry.get(), d);
  write_process(entry.get(), d);
  write_whole(path, h5_bytes(file));
}

}  // namespace sievelight
