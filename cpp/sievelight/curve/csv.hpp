// SPDX-License-Identifier: GPL-3.0-or-later
/// Curves as comma-separated values: RFC 4180, one header row whose names carry the units, nothing else.
/// q_per_nm, intensity_per_cm, then where known u_total_per_cm, u_pointwise_per_cm (what scatters from point to point:
/// own counts and pointwise causes), q_low_per_nm, q_high_per_nm, q_resolution_per_nm, slit_length_per_nm,
/// slit_width_per_nm (per_cm is cm2_per_g or relative in other units). With causes also u_private_per_cm and one column
/// a cause, "u_coherent_per_cm: <id>" or "u_shared_pointwise_per_cm: <id>", signed. Numbers are the shortest that read
/// back to the last bit. read_text_curve() takes such a file by its header.
#pragma once

#include "sievelight/curve/nxcansas_io.hpp"

#include <optional>

namespace sievelight {

/// InputError from check(curve); DataError when the file cannot be written.
void write_csv(const std::string& path, const Curve& curve, bool causes = false);

/// The curve of a text whose first row names columns as above; nullopt when it names none. Columns of other names are
/// left out with a note. DataError, naming `where` and the line, for a row that does not fit its header.
std::optional<NamedCurve> parse_csv_curve(const std::string& content, const std::string& where);

}  // namespace sievelight
