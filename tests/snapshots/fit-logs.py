"""Logs of ovens whose truth is known, made by SciPy: what `fit` is judged by.

    python3 -m venv /tmp/logs && /tmp/logs/bin/pip install numpy==2.4.3 scipy==1.17.1
    /tmp/logs/bin/python tests/snapshots/fit-logs.py tests/snapshots/fit-logs 12
    /tmp/logs/bin/python tests/snapshots/fit-logs.py /tmp/fit-logs 200 1000
    TRUESOAK_FIT_LOGS=/tmp/fit-logs cargo bench -p truesoak-tests --bench fit

Nothing is taken from the project but its oven's sizes (profiles/ovens/cabinet-60l.toml) and the
log's format. The ovens differ from the project's plant on purpose: eight cells of insulation for
three, a liner in two pieces that lose and exchange differently, films whose exponent is off, air
properties by Sutherland's law, insulation that conducts better when hot, a skin with its own free
convection and radiation, mains that wander, a room that drifts. Every factor is drawn uniformly
from the spread an oven's file has by default.

Three kinds in turn: an empty step test; parts with a probe on one, put in cold; the same with the
door opened in the soak. Rows are ten seconds apart; a reading is the mean of the second that ends
with its row.

The third number is the first case's; allowances were set by looking at cases 0 to 199, and are judged
by cases 1000 to 1199.
"""

import json
import sys
import zlib
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

ZERO = 273.15
SIGMA = 5.670374419e-8  # W/(m2 K4), CODATA 2018
G = 9.80665  # m/s2
ROW_S = 10.0
ROOM = 20.0

W, H, D, WALL = 0.40, 0.50, 0.30, 0.04
LINER_M2 = 2 * (W * H + H * D + D * W)
SKIN_M2 = 2 * ((W + 2 * WALL) * (H + 2 * WALL) + (H + 2 * WALL) * (D + 2 * WALL) + (D + 2 * WALL) * (W + 2 * WALL))
MEAN_M2 = np.sqrt(LINER_M2 * SKIN_M2)
WOOL_K, WOOL_RHO, WOOL_C = 0.045, 80.0, 840.0
POWER_W = 1500.0
ELEMENT_J, ELEMENT_M2, ELEMENT_E, SHARE = 0.23 * POWER_W, POWER_W / 4e4, 0.85, 0.4
LINER_J = LINER_M2 * 1e-3 * 7850 * 486 * 1.3
SKIN_J = SKIN_M2 * 0.8e-3 * 7850 * 486
LINER_E, SKIN_E = 0.8, 0.9
LEAK = 0.3 * 2 * (W + H)
STIRRED = 3.0
LAG_S, VIEW, PROBE_LAG_S = 12.0, 0.1, 4.0
DOOR_W, DOOR_H, DISCHARGE = W, H, 0.6
CELLS = 8

PLATES, PLATE = 6, (0.008, 0.15, 0.20)
ALUMINIUM = (2700.0, 896.0)
PLATE_E = 0.2
LOAD = """name = "Six plates"
[[part]]
name = "plate"
count = 6
material = "aluminium 6061"
shape = { plate = { thickness = "8 mm", width = "150 mm", height = "200 mm" } }
surface = "machined"
probe = true
"""


def air(kelvin):
    """Conductivity, kinematic viscosity of dry air (Sutherland; from memory)."""
    conductivity = 2.64638e-3 * kelvin**1.5 / (kelvin + 245.4 * 10 ** (-12 / kelvin))
    viscosity = 1.458e-6 * kelvin**1.5 / (kelvin + 110.4)
    return conductivity, viscosity * kelvin / 352.98


def plate_film(length, a, b):
    """Free convection on an upright plate, laminar (Churchill and Chu 1975)."""
    film = 0.5 * (a + b)
    conductivity, viscosity = air(film)
    rayleigh = G / film * abs(a - b) * length**3 / viscosity**2 * 0.70
    by_prandtl = (1 + (0.492 / 0.70) ** (9 / 16)) ** (4 / 9)
    return (0.68 + 0.670 * rayleigh**0.25 / by_prandtl) * conductivity / length


def cylinder_film(diameter, a, b):
    """Free convection on a lying cylinder (Churchill and Chu 1975)."""
    film = 0.5 * (a + b)
    conductivity, viscosity = air(film)
    rayleigh = G / film * abs(a - b) * diameter**3 / viscosity**2 * 0.70
    by_prandtl = (1 + (0.559 / 0.70) ** (9 / 16)) ** (8 / 27)
    return (0.60 + 0.387 * rayleigh ** (1 / 6) / by_prandtl) ** 2 * conductivity / diameter


def element_laws():
    """Conductance to air and exchange area with the liner that each carry all of the power."""
    area = ELEMENT_M2 / (1 / ELEMENT_E + ELEMENT_M2 / LINER_M2 * (1 / LINER_E - 1))
    rated = 150 + ZERO
    low, high = rated + 1, rated + 2850
    for _ in range(60):
        hot = 0.5 * (low + high)
        power = ELEMENT_M2 * cylinder_film(0.008, hot, rated) * (hot - rated)
        power += SIGMA * area * (hot**4 - rated**4)
        low, high = (hot, high) if power < POWER_W else (low, hot)
    return POWER_W / (hot - rated), POWER_W / (SIGMA * (hot**4 - rated**4))


CONVECTION, RADIATION = element_laws()


class Oven:
    """One oven: node temperatures in K, in the order element, air, liner, liner, skin, wool,
    slow half of the plates, fast half, sensor, probe."""

    def __init__(self, rng, kind):
        def factor(half):
            return 1 + half * rng.uniform(-1, 1)

        self.kind = kind
        self.truth = {
            "losses": factor(0.25),
            "wall_heat_capacity": factor(0.2),
            "part_exchange": factor(0.35),
            "heater_power": factor(0.15),
            "sensor_lag": LAG_S * factor(0.3),
            "wall_view": VIEW + 0.05 * rng.uniform(-1, 1),
        }
        self.share = SHARE + 0.1 * rng.uniform(-1, 1)
        self.tie = STIRRED * self.truth["part_exchange"] * np.exp(0.15 * rng.uniform(-1, 1))
        self.element_j = ELEMENT_J * factor(0.15)
        self.offset = 2.2 * rng.uniform(-1, 1)
        self.probe_offset = 1.1 * rng.uniform(-1, 1)
        self.cold, self.hot = 4 * rng.uniform(), 3 * rng.uniform()
        # What the project's plant does not have.
        self.exponent = 0.06 * rng.uniform(-1, 1)
        self.split = factor(0.15)
        self.film_split = factor(0.2)
        self.wool_slope = 4e-4 * rng.uniform(0, 1)
        self.mains = (0.01 * rng.uniform(), rng.uniform(600, 5000), rng.uniform(0, 6.28))
        self.drift = (1.0 * rng.uniform(-1, 1), rng.uniform(3000, 12000), rng.uniform(0, 6.28))
        self.room = ROOM + 2 * rng.uniform(-1, 1)
        self.rng = rng
        self.loaded = kind > 0
        self.part_m2 = 0.5 * PLATES * 2 * (PLATE[1] * PLATE[2] + PLATE[0] * (PLATE[1] + PLATE[2]))
        self.part_j = 0.5 * PLATES * np.prod(PLATE) * ALUMINIUM[0] * ALUMINIUM[1]
        ratio = 2 * self.part_m2 / LINER_M2
        self.part_e = 1 / (1 / PLATE_E + ratio * (1 / LINER_E - 1))
        self.state = np.full(5 + CELLS + 4, self.room + ZERO)
        self.door = 0.0

    def film(self, length, a, b):
        return plate_film(length, a, b) * (max(abs(a - b), 0.1) / 30) ** self.exponent

    def slopes(self, t, y, duty):
        truth = self.truth
        element, gas, liner, second, skin = y[:5]
        wool, (slow, fast, shown, probe) = y[5 : 5 + CELLS], y[5 + CELLS :]
        size, period, phase = self.drift
        room = self.room + ZERO + size * (np.sin(6.28 * t / period + phase) - np.sin(phase))
        size, period, phase = self.mains
        power = POWER_W * truth["heater_power"] * duty * (1 + size * np.sin(6.28 * t / period + phase))
        rate = np.zeros_like(y)
        # Element.
        to_air = (1 - self.share) * CONVECTION * (element - gas)
        pieces = ((liner, 0.7, self.film_split), (second, 0.3, 2 - self.film_split))
        walls = 0.7 * liner + 0.3 * second
        to_liner = self.share * RADIATION * SIGMA * (element**4 - walls**4)
        rate[0] = (power - to_air - to_liner) / self.element_j
        gas_w = to_air - LEAK * truth["losses"] * (gas - room)
        walls_w = []
        for wall, part, uneven in pieces:
            flow = part * uneven * LINER_M2 * self.tie * self.film(H, wall, gas) * (gas - wall)
            gas_w -= flow
            walls_w.append(flow + part * to_liner)
        # The two pieces of the liner lie on the same wool, and lose differently.
        conductance = WOOL_K * MEAN_M2 / (WALL / CELLS) * truth["losses"]
        capacity = WOOL_RHO * WOOL_C * WALL * MEAN_M2 / CELLS * truth["wall_heat_capacity"]

        def wools(a, b):
            return conductance * (1 + self.wool_slope * (0.5 * (a + b) - ZERO - 85)) * (a - b)

        into = 0.7 * self.split * 2 * wools(liner, wool[0])
        into_second = (1 - 0.7 * self.split) * 2 * wools(second, wool[0])
        walls_w[0] -= into
        walls_w[1] -= into_second
        flows = [into + into_second]
        flows += [wools(wool[i], wool[i + 1]) for i in range(CELLS - 1)]
        flows.append(2 * wools(wool[-1], skin))
        for i in range(CELLS):
            rate[5 + i] = (flows[i] - flows[i + 1]) / capacity
        out = plate_film(H + 2 * WALL, skin, room) * (skin - room)
        out += SKIN_E * SIGMA * (skin**4 - room**4)
        rate[4] = (flows[-1] - SKIN_M2 * out) / (SKIN_J * truth["wall_heat_capacity"])
        if self.door > 0:
            mean = 0.5 * (gas + room)
            across = max(gas - room, 0.0)
            volume = DISCHARGE / 3 * self.door * DOOR_W * DOOR_H * np.sqrt(G * DOOR_H * across / mean)
            gas_w -= 101325 / (287.05 * mean) * 1008 * volume * across
            for i, (wall, part, _) in enumerate(pieces):
                walls_w[i] -= part * DOOR_W * DOOR_H * SIGMA * (wall**4 - room**4)
        if self.loaded:
            for node, temperature, spot in ((5 + CELLS, slow, -self.cold), (6 + CELLS, fast, self.hot)):
                exchange = truth["part_exchange"] * self.part_m2
                across = gas + spot - temperature
                flow = exchange * self.film(PLATE[2], temperature, gas + spot) * across
                rays = exchange * self.part_e * SIGMA * (walls**4 - temperature**4)
                gas_w -= flow
                walls_w[0] -= 0.7 * rays
                walls_w[1] -= 0.3 * rays
                rate[node] = (flow + rays) / self.part_j
        liner_j = LINER_J * truth["wall_heat_capacity"]
        rate[1] = gas_w / (W * H * D * 1.2041 * 1006)
        rate[2] = walls_w[0] / (0.7 * liner_j)
        rate[3] = walls_w[1] / (0.3 * liner_j)
        view = truth["wall_view"]
        rate[7 + CELLS] = ((1 - view) * gas + view * walls - shown) / truth["sensor_lag"]
        rate[8 + CELLS] = (slow - probe) / PROBE_LAG_S
        return rate

    def reading(self, kelvin, offset):
        """Mean of ten transfers with noise, in steps of 0.25 K."""
        shown = kelvin - ZERO + offset + 0.1 * self.rng.normal(size=10)
        return np.round(np.mean(np.round(shown * 4) / 4) * 128) / 128


def course(oven, minutes_held, minutes_off):
    """Full power to 150 °C, held, then off; a door of a minute in the third kind."""
    rows, t, carried, made_up = [], 0.0, 0.0, 0.0
    heating, held_s, off_s = True, 0.0, 0.0
    last = ROOM
    while off_s < 60 * minutes_off:
        opened = oven.kind == 2 and 1200 <= held_s < 1260
        oven.door = 1.0 if opened else 0.0
        if heating:
            wanted = 1.0
            heating = last < 140.0
        elif held_s < 60 * minutes_held:
            error = 150.0 - last
            made_up = min(max(made_up + 0.0004 * error, 0.0), 1.0)
            wanted = 0.0 if opened else min(max(0.06 * error + made_up, 0.0), 1.0)
            held_s += ROW_S
        else:
            wanted = 0.0
            off_s += ROW_S
        duty = min(max(round(10 * (wanted + carried)) / 10, 0.0), 1.0) if wanted > 0 else 0.0
        carried = wanted + carried - duty if wanted > 0 else 0.0
        if not rows:
            rows.append(row(oven, oven.state, 0.0, 0.0))
        solved = solve_ivp(
            oven.slopes, (t, t + ROW_S), oven.state, args=(duty,), method="LSODA",
            rtol=1e-7, atol=1e-6, t_eval=(t + ROW_S - 0.5, t + ROW_S),
        )
        oven.state = solved.y[:, 1]
        t += ROW_S
        rows.append(row(oven, solved.y[:, 0], t, duty))
        last = rows[-1][1]
    return rows


def row(oven, state, t, duty):
    shown = oven.reading(state[7 + CELLS], oven.offset)
    probe = oven.reading(state[8 + CELLS], oven.probe_offset) if oven.loaded else None
    return t, shown, probe, duty, oven.door > 0


def write(path, oven, rows):
    header = {"source": "other", "note": "made by tests/snapshots/fit-logs.py"}
    if oven.loaded:
        header["load"] = LOAD
    lines = ["# truesoak.log/1 " + json.dumps(header, separators=(",", ":"))]
    lines.append(
        "t_s,air_c,air_b_c,part_probe_c,setpoint_c,duty,permit,door,step,phase,coldest_c,hottest_c,"
        "credit_s,flags,event"
    )
    for t, shown, probe, duty, opened in rows:
        probe = "" if probe is None else f"{probe:.7f}"
        lines.append(f"{t:.0f},{shown:.7f},,{probe},,{duty:.1f},1,{int(opened)},0,idle,,,0,,")
    text = "\n".join(lines) + "\n"
    crc = zlib.crc32(text.encode())
    text += f"# end rows={len(rows)} crc32={crc:08x}\n"
    path.write_text(text)


def main():
    folder, count = Path(sys.argv[1]), int(sys.argv[2])
    first = int(sys.argv[3]) if len(sys.argv) > 3 else 0
    folder.mkdir(parents=True, exist_ok=True)
    truths = []
    for number in range(first, first + count):
        oven = Oven(np.random.default_rng(1000 + number), number % 3)
        rows = course(oven, 40 + 10 * (number % 2), 50)
        name = f"case-{number:03}.csv"
        write(folder / name, oven, rows)
        truths.append({"log": name, "kind": oven.kind, **{k: round(v, 6) for k, v in oven.truth.items()}})
    (folder / "truths.json").write_text(json.dumps(truths, indent=0) + "\n")


main()
