// SPDX-License-Identifier: GPL-3.0-or-later
/// GSL without its default handler, which would abort the process.
#pragma once

namespace sievelight {

/// Switches GSL's aborting error handler off, once per process; call before any GSL routine.
void quiet_gsl();

/// Raises NumericalError naming `where` when a GSL status is not success.
void check_gsl(int status, const char* where);

}  // namespace sievelight
