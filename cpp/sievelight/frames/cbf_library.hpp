// SPDX-License-Identifier: GPL-3.0-or-later
/// What is left to the crystallographic union's CBF library: checksums, and compressions that detectors seldom write.
#pragma once

#include "sievelight/frames/stored_type.hpp"

#include <span>
#include <string>
#include <vector>

namespace sievelight {

/// True where the environment variable SIEVELIGHT_CBF_LIBRARY is "allow": the library trusts what a file says, and a
/// damaged or hostile one can end the process.
bool may_use_cbf_library();

/// MD5 as the header's Content-MD5 has it (RFC 1321, in base64). It finds damage; against intent it is no proof.
std::string md5_base64(std::span<const unsigned char> bytes);

/// The numbers of section `index` of a file by the library. DataError when it cannot decode them.
std::vector<unsigned char> decode_by_cbf_library(const std::string& path, std::size_t index, std::size_t elements,
                                                 const StoredType& type);

}  // namespace sievelight
