// SPDX-License-Identifier: GPL-3.0-or-later
#include "library_look.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/hdf5.hpp"
#include "sievelight/base/hdf5_outside.hpp"

#include <fcntl.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <csignal>
#include <cstdlib>
#include <set>
#include <utility>
#include <vector>

// Of the sanitizers' run time, where there is one.
extern "C" __attribute__((weak)) void __sanitizer_set_death_callback(void (*callback)());

namespace sievelight::fuzz {
namespace {

constexpr int deepest = 12;
constexpr std::size_t most_objects = 20000;
constexpr hssize_t most_numbers = 1 << 17;
constexpr hsize_t most_places = 64;
constexpr unsigned seconds_allowed = 2;

std::size_t died = 0;

// What throws is an answer in words, and no matter here.
template <typename Look>
void regardless(const Look& look) {
  try {
    look();
  } catch (const Error&) {  // NOLINT(bugprone-empty-catch): an answer, too
  }
}

void look_at_attributes(hid_t object) {
  H5Aiterate2(
      object, H5_INDEX_NAME, H5_ITER_NATIVE, nullptr,
      [](hid_t where, const char* name, const H5A_info_t*, void*) -> herr_t {
        regardless([&] { h5_attribute_list(where, name); });
        return 0;
      },
      nullptr);
}

void look_at_chunks(hid_t set, hid_t properties) {
  if (H5Pget_layout(properties) != H5D_CHUNKED) return;
  const std::vector<hsize_t> shape = h5_shape(set);
  std::vector<hsize_t> chunk(shape.size()), at(shape.size(), 0);
  H5Pget_chunk(properties, static_cast<int>(chunk.size()), chunk.data());
  if (shape.empty() || std::find(chunk.begin(), chunk.end(), hsize_t{0}) != chunk.end()) return;
  const hsize_t along = shape[0] / chunk[0] + 1, step = along / most_places + 1;
  for (hsize_t i = 0; i < along; i += step) {
    at[0] = i * chunk[0];
    hsize_t bytes = 0;
    if (at[0] < shape[0]) H5Dget_chunk_storage_size(set, at.data(), &bytes);
  }
}

void look_at_dataset(hid_t parent, const std::string& name, hid_t set) {
  const H5Handle space(H5Dget_space(set), H5Sclose), properties(H5Dget_create_plist(set), H5Pclose);
  if (H5Sget_simple_extent_npoints(space.get()) <= most_numbers) {
    regardless([&] { h5_numbers(parent, name); });
    regardless([&] { h5_text(parent, name); });
  }
  look_at_chunks(set, properties.get());
}

// Every group once, whatever links lead to it.
using Seen = std::set<std::pair<unsigned long, haddr_t>>;

void look_at_group(hid_t group, int depth, std::size_t& seen, Seen& groups) {
  H5O_info_t info;
  if (depth >= deepest || H5Oget_info1(group, &info) < 0 || !groups.insert({info.fileno, info.addr}).second) return;
  look_at_attributes(group);
  for (const std::string& name : h5_children(group)) {
    if (++seen > most_objects) return;
    regardless([&] {
      if (!h5_exists(group, name)) return;
      const H5Handle object(H5Oopen(group, name.c_str(), h5_link_access()), H5Oclose);
      const H5I_type_t kind = H5Iget_type(object.get());
      if (kind == H5I_GROUP) look_at_group(object.get(), depth + 1, seen, groups);
      if (kind != H5I_DATASET) return;
      look_at_attributes(object.get());
      look_at_dataset(group, name, object.get());
    });
  }
}

[[noreturn]] void look_and_end(const std::string& path) {
  ::prctl(PR_SET_PDEATHSIG, SIGKILL);
  ::alarm(seconds_allowed);
  for (const int signal : {SIGSEGV, SIGBUS, SIGABRT, SIGFPE, SIGILL, SIGALRM, SIGTERM}) std::signal(signal, SIG_DFL);
  if (&__sanitizer_set_death_callback) __sanitizer_set_death_callback(nullptr);  // libFuzzer would tell a finding
  const rlimit no_core{0, 0};
  setrlimit(RLIMIT_CORE, &no_core);
  // SIEVELIGHT_FUZZ_UPSTREAM names a file that collects what a sanitizer says of the library.
  const char* told = std::getenv("SIEVELIGHT_FUZZ_UPSTREAM");
  if (const int there = ::open(told ? told : "/dev/null", O_WRONLY | O_CREAT | O_APPEND, 0644); there >= 0)
    ::dup2(there, STDERR_FILENO);
  regardless([&] {
    const H5Handle file = h5_open(path);
    const H5Handle root(H5Gopen2(file.get(), "/", H5P_DEFAULT), H5Gclose);
    std::size_t seen = 0;
    Seen groups;
    if (root) look_at_group(root.get(), 0, seen, groups);
  });
  ::_exit(0);  // nothing of the original is tidied up, flushed or closed
}

}  // namespace

bool library_survives(const std::string& path) {
  {
    const auto quiet = hdf5_lock();
    if (H5Fis_hdf5(path.c_str()) <= 0) return true;  // nothing for the library to read
  }
  const pid_t copy = ::fork();
  if (copy == 0) look_and_end(path);
  int status = 0;
  pid_t ended = -1;
  while (copy > 0 && (ended = ::waitpid(copy, &status, 0)) < 0 && errno == EINTR) {
  }
  const bool survived = ended == copy && WIFEXITED(status) && WEXITSTATUS(status) == 0;
  died += !survived;
  return survived;
}

std::size_t left_out() { return died; }

}  // namespace sievelight::fuzz
