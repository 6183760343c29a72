// SPDX-License-Identifier: GPL-3.0-or-later
/// Functions compiled for several generations of processors, the best of which is chosen when the program starts.
/// Put SIEVELIGHT_EVERY_CPU before a function whose loops the compiler can turn into vector instructions. Contraction
/// is off and sums are never reordered (see cpp/CMakeLists.txt), so every version gives the same numbers bit for bit.
/// Elsewhere than on x86-64 with GCC and glibc the word is empty and the one portable version remains. A function
/// called inside must be SIEVELIGHT_INLINE to be compiled along.
#pragma once

#if defined(__x86_64__) && defined(__gnu_linux__) && defined(__GNUC__) && !defined(__clang__) && \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define SIEVELIGHT_EVERY_CPU __attribute__((target_clones("default", "arch=x86-64-v3", "arch=x86-64-v4")))
#else
#define SIEVELIGHT_EVERY_CPU
#endif

#if defined(__GNUC__)
#define SIEVELIGHT_INLINE [[gnu::always_inline]] inline
#else
#define SIEVELIGHT_INLINE inline
#endif
