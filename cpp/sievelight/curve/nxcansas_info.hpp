// SPDX-License-Identifier: GPL-3.0-or-later
/// What stands around the numbers of a NXcanSAS entry: title, run, SASsample, SASinstrument, SASprocess and SASnote.
/// Hold hdf5_lock() around these.
#pragma once

#include "sievelight/base/hdf5.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/curve/nxcansas_io.hpp"

namespace sievelight {

/// A group with NX_class and canSAS_class.
H5Handle make_sas_group(hid_t where, const std::string& name, const char* nx_class, const char* cansas_class);

/// A number as a file gives it; NaN where it gives none. The conversions leave out, with a note, what has a unit that
/// is not understood. Shared with canSAS XML.
struct GivenNumber {
  std::string field;
  double value = not_known;
  std::string unit;
};
double in_unit(const GivenNumber& given, Quantity quantity, std::vector<std::string>& notes);
double in_celsius(const GivenNumber& given, std::vector<std::string>& notes);
/// A beam centre: in pixels, or a length as its unit says.
double in_pixels(const GivenNumber& given, double pixel_size_mm, std::vector<std::string>& notes);
/// Relative standard deviation from a full width at half maximum (in the wavelength's unit, or in percent).
double wavelength_spread(const GivenNumber& given, double wavelength_nm, std::vector<std::string>& notes);
/// Puts a word of either of NXsource's lists where it belongs; drops others with a note.
void sort_source_words(InstrumentInfo& instrument, std::vector<std::string>& notes);

/// Child groups of one canSAS class, by name.
std::vector<std::string> sas_groups(hid_t where, const std::string& cansas_class);

/// Title, run, sample, instrument, processing steps and notes of an entry. What has a unit that is not understood is
/// left out with a note.
CurveInfo read_info(hid_t entry);

/// Writes the same; what is not known is not written.
void write_info(hid_t entry, const CurveInfo& info);

/// InputError when the probe or the source type is none of NXsource's words.
void check(const InstrumentInfo& instrument);

}  // namespace sievelight
