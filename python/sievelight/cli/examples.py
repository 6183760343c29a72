# SPDX-License-Identifier: GPL-3.0-or-later
"""Examples below each command's help; a test runs their options against the commands."""

EXAMPLES = {
    "run": """Examples:

sievelight run study.toml

sievelight run study.toml --workers 8 --json > outcome.json

sievelight run study.toml --cluster tcp://node1:8786""",
    "check": """Examples:

sievelight check results/record.json

sievelight check archive/record.json --study study.toml""",
    "plan": """Examples:

sievelight plan study.toml

sievelight plan study.toml --follow --row tile-7""",
    "demo": """Example:

sievelight demo demo-data""",
    "inspect": """Examples:

sievelight inspect tile-1.h5

sievelight inspect tile-1.h5 mask.h5 curve.csv --json

sievelight inspect tile-1.h5 --picture tile-1.png""",
    "calibrate": """Examples:

sievelight calibrate behenate.h5

sievelight calibrate behenate.h5 --distance-mm 600 --beam-center-px 251,298 --tilt --picture rings.png""",
    "reduce": """Examples:

sievelight reduce tile-1.h5 --background cell.h5 --transmission 0.41,0.002 --output curve.csv

sievelight reduce part-1.h5 part-2.h5 --instrument instrument.toml --picture curve.png""",
}
