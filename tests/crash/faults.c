// SPDX-License-Identifier: GPL-3.0-or-later
// Faults of a file system, for tests: loaded before the C library (LD_PRELOAD), it lets calls that touch files below one
// folder fail or die, and the clock jump.
//   FAULTS_UNDER    the folder, absolute and without links; calls on other files are left alone
//   FAULTS_KILL_AT  end the process by SIGKILL at the n-th call that changes something there; a write is half done then
//   FAULTS_SPACE    so many bytes may be written there in all; then the disk is full
//   FAULTS_READ_ONLY  nothing may be created or written there
//   FAULTS_COUNT    append the number of changing calls to this file when the process ends
//   FAULTS_JUMP     every look at the wall clock finds it moved by days, forth and back
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

#define REAL(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))
#define MOST_FILES 4096

static const char *under, *count_file;
static long kill_at, space = -1, read_only, jump;
static atomic_long calls, written, looks;
static atomic_char ours[MOST_FILES];

__attribute__((constructor)) static void begin(void) {
  under = getenv("FAULTS_UNDER");
  count_file = getenv("FAULTS_COUNT");
  if (getenv("FAULTS_KILL_AT")) kill_at = atol(getenv("FAULTS_KILL_AT"));
  if (getenv("FAULTS_SPACE")) space = atol(getenv("FAULTS_SPACE"));
  read_only = getenv("FAULTS_READ_ONLY") != NULL;
  jump = getenv("FAULTS_JUMP") != NULL;
}

__attribute__((destructor)) static void end(void) {
  FILE* file = count_file ? fopen(count_file, "a") : NULL;
  if (file) {
    fprintf(file, "%ld %ld\n", (long)calls, (long)written);
    fclose(file);
  }
}

static int below(const char* path) {
  const size_t n = under ? strlen(under) : 0;
  return n && strncmp(path, under, n) == 0 && (path[n] == '/' || path[n] == '\0');
}

static int is_ours(int file) { return file >= 0 && file < MOST_FILES && ours[file]; }

// Nonzero: the call must fail with that error.
static int changes(void) {
  if (read_only) return EROFS;
  if (++calls == kill_at) kill(getpid(), SIGKILL);
  return 0;
}

static int opened(int file, const char* path, int flags) {
  if (file >= 0 && file < MOST_FILES) ours[file] = (flags & (O_WRONLY | O_RDWR)) != 0 && below(path);
  return file;
}

#define OPEN(name)                                                        \
  int name(const char* path, int flags, ...) {                            \
    va_list more;                                                         \
    va_start(more, flags);                                                \
    const mode_t mode = (flags & O_CREAT) ? va_arg(more, mode_t) : 0;     \
    va_end(more);                                                         \
    if ((flags & (O_WRONLY | O_RDWR)) && below(path)) {                   \
      const int error = changes();                                        \
      if (error) return errno = error, -1;                                \
    }                                                                     \
    return opened(REAL(name)(path, flags, mode), path, flags);            \
  }
OPEN(open)
OPEN(open64)

#define OPENAT(name)                                                      \
  int name(int folder, const char* path, int flags, ...) {                \
    va_list more;                                                         \
    va_start(more, flags);                                                \
    const mode_t mode = (flags & O_CREAT) ? va_arg(more, mode_t) : 0;     \
    va_end(more);                                                         \
    if ((flags & (O_WRONLY | O_RDWR)) && below(path)) {                   \
      const int error = changes();                                        \
      if (error) return errno = error, -1;                                \
    }                                                                     \
    return opened(REAL(name)(folder, path, flags, mode), path, flags);    \
  }
OPENAT(openat)
OPENAT(openat64)

int close(int file) {
  if (file >= 0 && file < MOST_FILES) ours[file] = 0;
  return REAL(close)(file);
}

ssize_t write(int file, const void* bytes, size_t n) {
  if (is_ours(file)) {
    if (calls + 1 == kill_at && n > 1) REAL(write)(file, bytes, n / 2);
    const int error = changes();
    if (error) return errno = error, -1;
    if (space >= 0) {
      const long left = space - written;
      if (left <= 0) return errno = ENOSPC, -1;
      if ((long)n > left) n = (size_t)left;
    }
    written += (long)n;
  }
  return REAL(write)(file, bytes, n);
}

int fsync(int file) {
  if (is_ours(file)) {
    const int error = changes();
    if (error) return errno = error, -1;
  }
  return REAL(fsync)(file);
}

#define ON_PATH(call, path, parameters, arguments)   \
  int call parameters {                              \
    if (below(path)) {                               \
      const int error = changes();                   \
      if (error) return errno = error, -1;           \
    }                                                \
    return REAL(call) arguments;                     \
  }
ON_PATH(rename, to, (const char* from, const char* to), (from, to))
ON_PATH(unlink, path, (const char* path), (path))
ON_PATH(mkdir, path, (const char* path, mode_t mode), (path, mode))

static long moved(void) {
  const long n = looks++;
  return jump ? (n % 2 ? -1 : 1) * (n % 7) * 86400L : 0;
}

int clock_gettime(clockid_t which, struct timespec* now) {
  const int done = REAL(clock_gettime)(which, now);
  if (done == 0 && which == CLOCK_REALTIME) now->tv_sec += moved();
  return done;
}

int gettimeofday(struct timeval* now, void* zone) {
  const int done = REAL(gettimeofday)(now, zone);
  if (done == 0) now->tv_sec += moved();
  return done;
}

time_t time(time_t* now) {
  const time_t found = REAL(time)(NULL) + moved();
  if (now) *now = found;
  return found;
}
