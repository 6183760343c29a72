// SPDX-License-Identifier: GPL-3.0-or-later
/// Curves in canSAS XML 1.0 and 1.1 files (canSAS 1D working group, cansas1d/1.0 and urn:cansas1d:1.1).
/// Entities, external documents and the network play no part: the parser knows none of them.
#pragma once

#include "sievelight/curve/nxcansas_io.hpp"

namespace sievelight {

/// Reads every SASdata of every SASentry. Q, I, Idev, Qdev with their units; missing Idev gives zero uncertainty and a
/// note, as in read_nxcansas(). DataError (file, and line where there is one) when the file is larger than 64 MB, not
/// well-formed, not canSAS XML, or holds no curve.
std::vector<NamedCurve> read_cansas_xml(const std::string& path);

}  // namespace sievelight
