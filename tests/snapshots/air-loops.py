"""Writes air-loops.csv beside this file: the maximum sensitivity of the shipped ovens' air loops.

    python3 -m venv /tmp/loops && /tmp/loops/bin/pip install control==0.10.2
    TRUESOAK_LOOPS=/tmp/loops.json cargo test -p truesoak-tests --test air_loop -- --ignored
    /tmp/loops/bin/python tests/snapshots/air-loops.py /tmp/loops.json

The second line writes the linearised plants and the gains; nothing else is taken from the project.
The loop is exact here: the plant by ticks, the mean of ten transfers each up to a tick old, sum and
difference once a second, a duty held for a second that begins late by the drive's delay.
"""

import json
import sys
from importlib.metadata import version
from pathlib import Path

import control
import numpy as np

TICKS = 10
FREQUENCIES = np.append(np.geomspace(1e-3, np.pi, 6000)[:-1], np.pi)


def plant_by_ticks(loop):
    capacities = np.array(loop["capacities_j_per_k"])
    count = len(capacities)
    a = np.zeros((count + 1, count + 1))
    a[:count, :count] = np.array(loop["slopes_w_per_k"]).T / capacities[:, None]
    for node, share in loop["seen"]:
        a[count, node] += share / loop["lag_s"]
    a[count, count] = -1.0 / loop["lag_s"]
    b = np.zeros((count + 1, 1))
    b[loop["heated"], 0] = loop["power_w"] / capacities[loop["heated"]]
    c = np.zeros((1, count + 1))
    c[0, count] = 1.0
    return control.sample_system(control.ss(a, b, c, 0), 1.0 / TICKS, "zoh")


def by_seconds(ticks, late_ticks):
    """From the duty of a second to the mean of the next: plant, duty before, mean."""
    a, b, c = np.array(ticks.A), np.array(ticks.B), np.array(ticks.C)
    count = a.shape[0]
    state = np.hstack([np.eye(count), np.zeros((count, 2))])
    mean = np.zeros((1, count + 2))
    for tick in range(TICKS):
        mean += c @ state / TICKS
        state = a @ state
        state[:, [count if tick < late_ticks else count + 1]] += b
    whole = np.zeros((count + 2, count + 2))
    whole[:count, : count + 1] = state[:, : count + 1]
    whole[count + 1, : count + 1] = mean[0, : count + 1]
    into = np.zeros((count + 2, 1))
    into[:count, 0] = state[:, count + 1]
    into[count, 0] = 1.0
    into[count + 1, 0] = mean[0, count + 1]
    out = np.zeros((1, count + 2))
    out[0, count + 1] = 1.0
    return control.ss(whole, into, out, 0, 1.0)


def controller(loop):
    z = control.tf([1, 0], [1], 1.0)
    gain, integral_s, derivative_s = (
        loop[key] for key in ("gain_per_k", "integral_s", "derivative_s")
    )
    difference = (z - 1) / z
    return control.ss(gain * (1 + 1 / (integral_s * difference) + derivative_s * difference))


def sensitivity(loop):
    late_ticks = round(loop["drive_s"] * TICKS)
    assert abs(late_ticks - loop["drive_s"] * TICKS) < 1e-9, "the drive is late by whole ticks"
    open_loop = by_seconds(plant_by_ticks(loop), late_ticks) * controller(loop)
    closed = control.feedback(control.ss([], [], [], 1, 1.0), open_loop)
    if np.max(np.abs(closed.poles())) >= 1.0:
        return float("inf")
    return float(np.max(np.abs(closed(np.exp(1j * FREQUENCIES)))))


loops = json.loads(Path(sys.argv[1]).read_text())
lines = [
    "# Maximum sensitivity of the air loops of linearised plants.",
    f"# Written by air-loops.py with python-control {version('control')}.",
    "loop,gain_per_k,integral_s,derivative_s,sensitivity",
    *(
        f"{loop['name']},{loop['gain_per_k']:.6g},{loop['integral_s']:.6g},"
        f"{loop['derivative_s']:.6g},{sensitivity(loop):.5f}"
        for loop in loops
    ),
]
Path(__file__).with_suffix(".csv").write_text("\n".join(lines) + "\n")
