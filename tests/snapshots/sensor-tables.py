"""Writes sensor-tables.csv beside this file: every whole degree of -50...400 C by reference packages.

    python3 -m venv /tmp/tables && /tmp/tables/bin/pip install "numpy<2" scipy \
        thermocouples_reference==0.20 thermocouple-its90==1.0.2 ptcal==0.1.4
    /tmp/tables/bin/python tests/snapshots/sensor-tables.py

thermocouples_reference breaks on NumPy 2. The second package of thermocouples only has to agree.
"""

from importlib.metadata import version
from pathlib import Path

import thermocouple_its90
from ptcal.core import CVD_A_NORM, CVD_B_NORM, CVD_C_NORM, cvd_r
from thermocouples_reference import thermocouples

LETTERS = "KJTN"


def emfs_uv(temp_c):
    return [1000.0 * float(thermocouples[letter].emf_mVC(temp_c)) for letter in LETTERS]


def emfs_again_uv(temp_c):
    return [1000.0 * thermocouple_its90.get(letter).emf(temp_c) for letter in LETTERS]


def row(temp_c):
    emfs = emfs_uv(float(temp_c))
    apart = max(abs(one - other) for one, other in zip(emfs, emfs_again_uv(float(temp_c))))
    assert apart < 1e-6, f"the packages disagree by {apart} uV at {temp_c} C"
    ohms = float(cvd_r(float(temp_c), 100.0, CVD_A_NORM, CVD_B_NORM, CVD_C_NORM))
    return f"{temp_c}," + ",".join(f"{emf:.4f}" for emf in emfs) + f",{ohms:.6f}"


def sources():
    names = ["thermocouples_reference", "thermocouple-its90", "ptcal"]
    return ", ".join(f"{name} {version(name)}" for name in names)


lines = [
    "# Thermocouples against 0 C (ITS-90) in uV, Pt100 (IEC 60751) in ohms.",
    f"# Written by sensor-tables.py with {sources()}.",
    "temp_c,k_uv,j_uv,t_uv,n_uv,pt100_ohm",
    *(row(temp_c) for temp_c in range(-50, 401)),
]
Path(__file__).with_suffix(".csv").write_text("\n".join(lines) + "\n")
