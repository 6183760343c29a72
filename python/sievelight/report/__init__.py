# SPDX-License-Identifier: GPL-3.0-or-later
"""The report for people: one self-contained HTML file.

`write_report(result)` draws the pictures, words the answer and writes `report.html` beside the tables.
"""

from sievelight.report.html import write_report

__all__ = ["write_report"]
