// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/cbf_library.hpp"

#include "sievelight/base/error.hpp"

#include <cbf.h>
#include <fmt/format.h>
#include <md5.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <mutex>
#include <string_view>

namespace sievelight {
namespace {

constexpr const char* copy_again = "Copy the file again from where it was measured; leave the frame out if it is lost.";

// The library keeps state of its own between calls.
std::mutex& library_mutex() {
  static std::mutex mutex;
  return mutex;
}

struct Handle {
  cbf_handle cbf = nullptr;
  Handle() = default;
  Handle(const Handle&) = delete;
  Handle& operator=(const Handle&) = delete;
  ~Handle() {
    if (cbf) cbf_free_handle(cbf);  // closes the file too
  }
};

}  // namespace

bool may_use_cbf_library() {
  const char* allowed = std::getenv("SIEVELIGHT_CBF_LIBRARY");
  return allowed && std::string_view(allowed) == "allow";
}

std::string md5_base64(std::span<const unsigned char> bytes) {
  static constexpr char letters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  MD5_CTX context;
  unsigned char digest[18] = {};
  MD5Init(&context);
  for (std::size_t at = 0; at < bytes.size(); at += 1u << 30)
    MD5Update(&context, const_cast<unsigned char*>(bytes.data()) + at,
              static_cast<unsigned>(std::min<std::size_t>(bytes.size() - at, 1u << 30)));
  MD5Final(digest, &context);
  std::string out;
  for (std::size_t i = 0; i < 18; i += 3) {
    const unsigned three = static_cast<unsigned>(digest[i] << 16 | digest[i + 1] << 8 | digest[i + 2]);
    for (int shift = 18; shift >= 0; shift -= 6) out += letters[three >> shift & 63];
  }
  return out.substr(0, 22) + "==";
}

std::vector<unsigned char> decode_by_cbf_library(const std::string& path, std::size_t index, std::size_t elements,
                                                 const StoredType& type) {
  const std::lock_guard lock(library_mutex());
  Handle handle;
  if (cbf_make_handle(&handle.cbf) != 0)
    throw DataError(fmt::format("'{}' cannot be opened.", path), "Close other programs; memory is short.");
  cbf_set_cbf_logfile(handle.cbf, nullptr);  // never to the terminal
  std::FILE* stream = std::fopen(path.c_str(), "rb");
  if (!stream) throw DataError(fmt::format("'{}' cannot be read.", path), "Check the rights on the file.");
  std::vector<unsigned char> out(elements * type.size);
  int id = 0;
  std::size_t done = 0;
  // The library closes the stream, with the handle or when reading fails.
  int error = cbf_read_widefile(handle.cbf, stream, MSG_DIGEST);
  if (error == 0) error = cbf_rewind_datablock(handle.cbf);
  if (error == 0) error = cbf_find_category(handle.cbf, "array_data");
  if (error == 0) error = cbf_find_column(handle.cbf, "data");
  if (error == 0) error = cbf_select_row(handle.cbf, static_cast<unsigned>(index));
  if (error == 0) {
    const bool real = type.kind == NumberKind::f32 || type.kind == NumberKind::f64;
    error = real ? cbf_get_realarray(handle.cbf, &id, out.data(), type.size, elements, &done)
                 : cbf_get_integerarray(handle.cbf, &id, out.data(), type.size, type.name[0] == 'i', elements, &done);
  }
  if (error != 0 || done != elements)
    throw DataError(fmt::format("the CBF library gave {} of {} numbers (error {})", done, elements, error), copy_again);
  return out;
}

}  // namespace sievelight
