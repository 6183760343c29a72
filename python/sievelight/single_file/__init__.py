# SPDX-License-Identifier: GPL-3.0-or-later
"""The frames of one sample to its curve, without a study: the very chain of a study, for a table of a few rows.

Which one do I use, and when?

* :func:`reduce_file` for one sample, or to try a correction.
* :func:`sievelight.run_study` for more than one: what samples share is read once and cancels in their differences.
"""

from sievelight.single_file.call import reduce_file
from sievelight.single_file.result import ReducedFile, refuse_existing, refuse_format

__all__ = ["ReducedFile", "reduce_file", "refuse_existing", "refuse_format"]
