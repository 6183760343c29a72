# SPDX-License-Identifier: GPL-3.0-or-later
"""From small-angle X-ray detector frames to pore-size distributions with honest uncertainties."""

from sievelight._core import DataError, Estimate, InputError, NumericalError, Range, __version__

__all__ = ["DataError", "Estimate", "InputError", "NumericalError", "Range", "__version__"]
