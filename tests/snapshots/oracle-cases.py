"""Writes oracle-cases.csv beside this file: how soon a part can have its minutes, by linear programming.

    python3 -m venv /tmp/oracle && /tmp/oracle/bin/pip install scipy
    /tmp/oracle/bin/python tests/snapshots/oracle-cases.py

Five ovens of two nodes, an air that is heated and a part that hangs in it, some with a sensor that
lags. The part must come to at_least as soon as may be and stay there, reading and part under their
limits till some minutes after. For a
heat that is constant over each second the state after every second is exactly linear in the heat
(matrix exponential), so that the least number of seconds is found by bisection over linear programs
(HiGHS): one second less is infeasible, which is the bound from below; the heat found for the least
is put through an explicit Runge-Kutta 8(5,3) of SciPy, which is the bound from above.
"""

from importlib.metadata import version
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp
from scipy.linalg import expm
from scipy.optimize import linprog

ROOM_C = 20.0
#: Limits are kept for so long after the part has come.
STAYS_S = 180
#: name, J/K of air and part, W/K air-part and air-room, W, sensor lag s, limits of reading and part,
#: at_least, all in C.
CASES = [
    ("air_limited", 900.0, 1200.0, 6.0, 5.0, 1500.0, 0.0, 177.0, 1000.0, 149.0),
    ("sensor_lags", 900.0, 1200.0, 6.0, 5.0, 1500.0, 12.0, 177.0, 1000.0, 149.0),
    ("part_limited", 3000.0, 400.0, 8.0, 5.0, 1500.0, 12.0, 250.0, 152.0, 151.5),
    ("never_limited", 900.0, 4000.0, 12.0, 9.0, 1500.0, 12.0, 400.0, 400.0, 149.0),
    ("element_slow", 4000.0, 900.0, 3.0, 6.0, 2000.0, 30.0, 160.0, 158.0, 150.0),
]


def system(case):
    _, air, part, tie, loss, power, lag, *_ = case
    count = 3 if lag > 0 else 2
    a = np.zeros((count, count))
    b = np.zeros(count)
    a[0, 0], a[0, 1], b[0] = -(tie + loss) / air, tie / air, power / air
    a[1, 0], a[1, 1] = tie / part, -tie / part
    if lag > 0:
        a[2, 0], a[2, 2] = 1 / lag, -1 / lag
    return a, b


def seconds(case, count):
    """State after 1..count seconds above the room, as a matrix of the heat of each second."""
    a, b = system(case)
    whole = expm(np.block([[a, b[:, None]], [np.zeros((1, len(b) + 1))]]))
    step, pulse = whole[:-1, :-1], whole[:-1, -1]
    after = [pulse]
    for _ in range(count - 1):
        after.append(step @ after[-1])
    after = np.array(after)
    rows = np.zeros((count, len(b), count))
    for second in range(count):
        rows[second, :, : second + 1] = after[second::-1].T
    return rows


def limits(case):
    *_, lag, reading, part, at_least = case
    shown = 2 if lag > 0 else 0
    return shown, reading - ROOM_C, part - ROOM_C, at_least - ROOM_C


def heat_for(case, count):
    whole = count + STAYS_S
    rows = seconds(case, whole)
    shown, reading, part, at_least = limits(case)
    stays = rows[count - 1 :, 1, :]
    upper = np.vstack([rows[:, shown, :], rows[:, 1, :], -stays])
    right = np.concatenate([np.full(whole, reading), np.full(whole, part), np.full(len(stays), -at_least)])
    found = linprog(np.zeros(whole), A_ub=upper, b_ub=right, bounds=(0, 1), method="highs")
    return found.x if found.status == 0 else None


def least(case):
    low, high = 0, 8
    while heat_for(case, high) is None:
        low, high = high, high * 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if heat_for(case, middle) is not None else (middle, high)
    return high


def simulated(case, heat):
    """What the heat gives by another integration: greatest reading and part, part in the end."""
    a, b = system(case)
    shown, *_ = limits(case)
    state, reading, part = np.zeros(len(b)), 0.0, 0.0
    for share in heat:
        solved = solve_ivp(lambda _, x: a @ x + b * share, (0, 1), state, "DOP853", rtol=1e-10, atol=1e-10)
        state = solved.y[:, -1]
        reading, part = max(reading, state[shown]), max(part, state[1])
    return reading + ROOM_C, part + ROOM_C, state[1] + ROOM_C


def main():
    names = "name,air_j_per_k,part_j_per_k,tie_w_per_k,loss_w_per_k,power_w,lag_s,reading_c,part_c,at_least_c"
    lines = [f"# scipy {version('scipy')}, numpy {version('numpy')}", f"{names},least_s,simulated_reading_c,simulated_part_c"]
    for case in CASES:
        count = least(case)
        reading, part, in_the_end = simulated(case, heat_for(case, count))
        assert reading <= case[7] + 1e-3 and part <= case[8] + 1e-3, case
        assert in_the_end >= case[9] - 1e-3, case
        lines.append(",".join(map(str, case)) + f",{count},{reading:.4f},{part:.4f}")
        print(lines[-1])
    Path(__file__).with_suffix(".csv").write_text("\n".join(lines) + "\n")


main()
