"""Writes oracle-stays.csv beside this file: how soon a soak can be over that limits the parts' stay.

    python3 -m venv /tmp/oracle && /tmp/oracle/bin/pip install scipy
    /tmp/oracle/bin/python tests/snapshots/oracle-stays.py

Ovens of three nodes: an air that is heated, a thin and a thick part that hang in it, and a sensor that
lags. Both parts must be in their window for so long, and the thin one may be above its lower end no
longer than a limit, the way down with the heater off included. For heat that is constant over each step
the state is exactly linear in it (matrix exponential). When the thin part comes above is tried from
early to late, and for each the earliest end is found by bisection over linear programs (HiGHS); with
the first that leaves the thin part in time, the end is the least: coming above later never ends sooner.
One step less, or one step sooner above, is infeasible: the bound from below.
"""

from importlib.metadata import version
from pathlib import Path

import numpy as np
from scipy.linalg import expm
from scipy.optimize import linprog

ROOM_C = 20.0
STEP_S = 5
#: name; J/K of air, thin and thick part; W/K to the thin, the thick and the room; W; sensor lag s;
#: limit of the reading, at_least, at_most, all in C; for_s; limit_s.
CASES = [
    ("short_wait", 900.0, 300.0, 2400.0, 4.0, 4.0, 5.0, 1800.0, 12.0, 177.0, 149.0, 177.0, 600, 1450),
    ("long_wait", 900.0, 300.0, 2400.0, 4.0, 4.0, 5.0, 1800.0, 12.0, 177.0, 149.0, 177.0, 600, 1000),
    ("lagging", 1500.0, 500.0, 2000.0, 3.0, 5.0, 7.0, 2200.0, 40.0, 185.0, 150.0, 176.0, 300, 560),
]


def system(case):
    _, air, thin, thick, to_thin, to_thick, loss, power, lag, *_ = case
    a, b = np.zeros((4, 4)), np.array([power / air, 0.0, 0.0, 0.0])
    a[0, :3] = -(to_thin + to_thick + loss) / air, to_thin / air, to_thick / air
    a[1, 0], a[1, 1] = to_thin / thin, -to_thin / thin
    a[2, 0], a[2, 2] = to_thick / thick, -to_thick / thick
    a[3, 0], a[3, 3] = 1 / lag, -1 / lag
    return a, b


def responses(case, count):
    """State after each step above the room, as a matrix of the heat of each step."""
    a, b = system(case)
    whole = expm(STEP_S * np.block([[a, b[:, None]], [np.zeros((1, 5))]]))
    step, pulse = whole[:-1, :-1], whole[:-1, -1]
    after = [pulse]
    for _ in range(count - 1):
        after.append(step @ after[-1])
    after = np.array(after)
    rows = np.zeros((4, count, count))
    for index in range(count):
        rows[:, index, : index + 1] = after[index::-1].T
    return rows


def heat_for(case, rows, above, end, limited):
    """Heat of each step, the thin part coming above after `above` steps, the soak over after `end`."""
    *_, reading, at_least, at_most, for_s, limit_s = case
    soaks = end - for_s // STEP_S
    below, least = at_least - ROOM_C, at_least - ROOM_C
    upper = [rows[3, :end, :end], rows[1, :end, :end], rows[2, :end, :end]]
    right = [np.full(end, reading - ROOM_C), np.full(2 * end, at_most - ROOM_C)]
    upper.append(rows[1, :above, :end])
    right.append(np.full(above, below))
    for part in (1, 2):
        upper.append(-rows[part, soaks:end, :end])
        right.append(np.full(end - soaks, -least))
    if limited:
        left = above + limit_s // STEP_S
        upper.append(rows[1, left - 1 : left, :end])
        right.append(np.array([below]))
    found = linprog(np.zeros(end), A_ub=np.vstack(upper), b_ub=np.concatenate(right), bounds=(0, 1), method="highs")
    return found.x if found.status == 0 else None


def soonest(case, rows, above, low):
    """The earliest end that the thin part, kept below for so long, allows without a limit."""
    low, high = max(low, above) - 1, rows.shape[1]
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if heat_for(case, rows, above, middle, False) is not None else (middle, high)
    return high


def least(case):
    rows = responses(case, 1200)
    for_steps = case[-2] // STEP_S
    low, high = 0, 600

    def ends(above):
        end = soonest(case, rows, above, for_steps)
        left = above + case[-1] // STEP_S
        if end >= left:
            return None
        return end if heat_for(case, rows, above, end, True) is not None else None

    assert ends(high) is not None, case
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if ends(middle) is not None else (middle, high)
    return high, ends(high)


def main():
    names = "name,air_j_per_k,thin_j_per_k,thick_j_per_k,thin_w_per_k,thick_w_per_k,loss_w_per_k,power_w,lag_s"
    names += ",reading_c,at_least_c,at_most_c,for_s,limit_s,above_s,least_s"
    lines = [f"# scipy {version('scipy')}, numpy {version('numpy')}; found to {STEP_S} s", names]
    for case in CASES:
        above, end = least(case)
        lines.append(",".join(map(str, case)) + f",{above * STEP_S},{end * STEP_S}")
        print(lines[-1], flush=True)
    Path(__file__).with_suffix(".csv").write_text("\n".join(lines) + "\n")


main()
