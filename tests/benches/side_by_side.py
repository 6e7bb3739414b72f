"""The plant's integration beside common ones, at what accuracy: prints a table, judges nothing.

    cargo build --release
    python3 -m venv target/side && target/side/bin/pip install numpy scipy numba
    target/side/bin/python tests/benches/side_by_side.py

Three hours of an oven of 31 nodes, its heater switched some 2,250 times, its door open for 30 s,
read ten times a second. The reference is LSODA at tolerances of 1e-10, stopped at every switch.
Times are the best of three and leave out compiling and files; ours is `truesoak network`, the whole
process, which counts against it. Errors are the worst of all nodes at all whole seconds.
"""

import json
import subprocess
import tempfile
import time
from pathlib import Path

import numba
import numpy as np
from scipy.integrate import solve_ivp

HOURS_S = 10_800
TICK_S = 0.1
ZERO_K = 273.15
SIGMA = 5.670374419e-8  # W/(m2 K4), CODATA 2018
GRAVITY = 9.80665  # m/s2
BINARY = Path(__file__).parents[2] / "target/release/truesoak"


def oven():
    nodes, links, radiation = [], [], []

    def node(name, capacity):
        nodes.append({"name": name, "heat_capacity_j_per_k": capacity, "initial_c": 20})

    def link(a, b, conductance):
        links.append({"a": a, "b": b, "conductance_w_per_k": conductance})

    def rays(a, b, area):
        radiation.append({"a": a, "b": b, "exchange_area_m2": area})

    for name, capacity in [("element", 350), ("air", 90), ("liner", 6000)]:
        node(name, capacity)
    link("element", "air", 3.0)
    rays("element", "liner", 0.02)
    link("air", "liner", 14.0)
    for index in range(3):
        node(f"wool {index + 1}", 900)
        link("liner" if index == 0 else f"wool {index}", f"wool {index + 1}", 3.2)
    node("skin", 4000)
    link("wool 3", "skin", 3.2)
    link("skin", "ambient", 12.0)
    link("air", "ambient", 0.3)
    node("rack", 300)
    node("hooks", 300)
    link("air", "rack", 3.0)
    link("rack", "hooks", 8.0)
    rays("liner", "rack", 0.03)
    chains = [(5, 60, 2.5), (5, 90, 1.2), (4, 40, 6.0), (4, 150, 0.9), (4, 25, 12.0)]
    for part, (cells, capacity, inward) in enumerate(chains):
        for cell in range(cells):
            node(f"part {part + 1}.{cell + 1}", capacity)
            if cell > 0:
                link(f"part {part + 1}.{cell}", f"part {part + 1}.{cell + 1}", inward)
        link("air", f"part {part + 1}.1", 1.0 + 0.3 * part)
        rays("liner", f"part {part + 1}.1", 0.01 + 0.004 * part)
    schedule = [{"from_s": 0, "power_w": 1500}, {"from_s": 900, "power_w": 0}]
    for pulse in range(1124):
        on_s = 905 + 8.8 * pulse
        schedule.append({"from_s": round(on_s, 1), "power_w": 1500})
        schedule.append({"from_s": round(on_s + 2.3, 1), "power_w": 0})
    door = {"a": "air", "width_m": 0.38, "height_m": 0.48, "discharge": 0.6}
    door |= {"specific_heat_j_per_kg_k": 1007, "from_s": 1800, "to_s": 1830}
    return {
        "ambient_c": 20, "duration_s": HOURS_S, "log_every_s": TICK_S,
        "nodes": nodes, "links": links, "radiation": radiation, "doorways": [door],
        "heaters": [{"node": "element", "schedule": schedule}],
    }


class Arrays:
    """The same network as arrays, the room last."""

    def __init__(self, net):
        index = {node["name"]: i for i, node in enumerate(net["nodes"])}
        count = len(index)
        index["ambient"] = count
        self.capacity = np.array([n["heat_capacity_j_per_k"] for n in net["nodes"]], float)
        self.matrix = np.zeros((count, count + 1))
        for one in net["links"]:
            a, b, g = index[one["a"]], index[one["b"]], one["conductance_w_per_k"]
            for here, there in [(a, b), (b, a)]:
                if here < count:
                    self.matrix[here, here] -= g
                    self.matrix[here, there] += g
        pairs = net["radiation"]
        self.a = np.array([index[p["a"]] for p in pairs])
        self.b = np.array([index[p["b"]] for p in pairs])
        self.rays = SIGMA * np.array([p["exchange_area_m2"] for p in pairs])
        door = net["doorways"][0]
        self.air = index["air"]
        self.room_k = net["ambient_c"] + ZERO_K
        factor = 101_325 / 287.05 * door["specific_heat_j_per_kg_k"] * door["discharge"] / 3
        height = door["height_m"]
        self.door = factor * door["width_m"] * height * np.sqrt(GRAVITY * height)
        steps = net["heaters"][0]["schedule"]
        ticks = np.array([round(step["from_s"] / TICK_S) for step in steps])
        power = np.array([step["power_w"] for step in steps], float)
        every = np.arange(round(HOURS_S / TICK_S))
        self.power = power[np.searchsorted(ticks, every, side="right") - 1]
        self.open = (every >= 18_000) & (every < 18_300)
        changes = np.flatnonzero(np.diff(self.power) + np.diff(self.open.astype(float))) + 1
        self.cuts = np.concatenate([[0], changes, [len(every)]])
        self.start = np.full(count, 20 + ZERO_K)

    def slope(self, kelvins, watts, is_open):
        heat = self.matrix[:, :-1] @ kelvins + self.matrix[:, -1] * self.room_k
        fourth = kelvins**4
        flow = self.rays * (fourth[self.a] - fourth[self.b])
        np.subtract.at(heat, self.a, flow)
        np.add.at(heat, self.b, flow)
        heat[0] += watts
        above = kelvins[self.air] - self.room_k
        if is_open and above > 0:
            mean = 0.5 * (kelvins[self.air] + self.room_k)
            heat[self.air] -= self.door * np.sqrt(above / mean) * above / mean
        return heat / self.capacity


def lsoda(arrays, tolerance, seconds_only=False):
    rows = np.empty((len(arrays.power) + 1, len(arrays.start)))
    rows[0] = kelvins = arrays.start
    for begin, end in zip(arrays.cuts, arrays.cuts[1:]):
        watts, is_open = arrays.power[begin], arrays.open[begin]
        found = solve_ivp(
            lambda _, y: arrays.slope(y, watts, is_open), (begin * TICK_S, end * TICK_S), kelvins,
            method="LSODA", rtol=tolerance, atol=tolerance,
            t_eval=np.minimum(np.arange(begin + 1, end + 1) * TICK_S, end * TICK_S),
        )
        rows[begin + 1 : end + 1] = found.y.T
        kelvins = found.y[:, -1]
    return rows


def fixed(arrays, parts):
    """Runge-Kutta of order 4 in numpy, so many steps a tick."""
    rows = np.empty((len(arrays.power) + 1, len(arrays.start)))
    rows[0] = y = arrays.start
    h = TICK_S / parts
    for tick, (watts, is_open) in enumerate(zip(arrays.power, arrays.open)):
        for _ in range(parts):
            k1 = arrays.slope(y, watts, is_open)
            k2 = arrays.slope(y + h / 2 * k1, watts, is_open)
            k3 = arrays.slope(y + h / 2 * k2, watts, is_open)
            k4 = arrays.slope(y + h * k3, watts, is_open)
            y = y + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        rows[tick + 1] = y
    return rows


@numba.njit(cache=False)
def compiled_slope(y, out, coordinates, a, b, rays, capacity, to_room, room, watts, door):
    out[:] = to_room * room
    for i, j, g in coordinates:
        out[int(i)] += g * y[int(j)]
    for k in range(len(a)):
        flow = rays[k] * (y[a[k]] ** 4 - y[b[k]] ** 4)
        out[a[k]] -= flow
        out[b[k]] += flow
    out[0] += watts
    above = y[1] - room
    if door > 0 and above > 0:
        mean = 0.5 * (y[1] + room)
        out[1] -= door * np.sqrt(above / mean) * above / mean
    out /= capacity


@numba.njit(cache=False)
def compiled(start, power, opening, parts, coordinates, a, b, rays, capacity, to_room, room, door):
    count = len(start)
    rows = np.empty((len(power) + 1, count))
    rows[0] = start
    y = start.copy()
    k1, k2, k3, k4 = np.empty(count), np.empty(count), np.empty(count), np.empty(count)
    h = TICK_S / parts
    for tick in range(len(power)):
        now = door if opening[tick] else 0.0
        rest = (coordinates, a, b, rays, capacity, to_room, room, power[tick], now)
        for _ in range(parts):
            compiled_slope(y, k1, *rest)
            compiled_slope(y + h / 2 * k1, k2, *rest)
            compiled_slope(y + h / 2 * k2, k3, *rest)
            compiled_slope(y + h * k3, k4, *rest)
            y += h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        rows[tick + 1] = y
    return rows


def by_numba(arrays, parts):
    i, j = np.nonzero(arrays.matrix[:, :-1])
    coordinates = np.stack([i, j, arrays.matrix[i, j]], axis=1)
    return compiled(
        arrays.start, arrays.power, arrays.open, parts, coordinates, arrays.a, arrays.b,
        arrays.rays, arrays.capacity, arrays.matrix[:, -1].copy(), arrays.room_k, arrays.door,
    )


def ours(net):
    with tempfile.TemporaryDirectory() as folder:
        bare, log = Path(folder) / "net.json", Path(folder) / "log.csv"
        bare.write_text(json.dumps(net))
        took = best(lambda: subprocess.run([BINARY, "network", bare], check=True, capture_output=True))
        bare.write_text(json.dumps(net | {"log_every_s": 1}))
        subprocess.run([BINARY, "network", bare, "--log", log], check=True, capture_output=True)
        rows = np.loadtxt(log, delimiter=",", skiprows=1)[:, 1:] + ZERO_K
    return took, rows


def best(work):
    times = []
    for _ in range(3):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return min(times)


def main():
    net = oven()
    arrays = Arrays(net)
    reference = lsoda(arrays, 1e-10)[::10]
    own_s, rows = ours(net)
    table = [("this plant, whole process", own_s, np.abs(rows - reference).max())]
    for name, work in [
        ("SciPy LSODA, 1e-4", lambda: lsoda(arrays, 1e-4)),
        ("SciPy LSODA, 1e-6", lambda: lsoda(arrays, 1e-6)),
        ("numpy RK4, 0.1 s", lambda: fixed(arrays, 1)),
        ("numba RK4, 0.1 s", lambda: by_numba(arrays, 1)),
    ]:
        error = np.abs(work()[::10] - reference).max()
        begun = time.perf_counter()
        work()
        table.append((name, time.perf_counter() - begun, error))
    print(f"{'':28}{'time s':>10}{'ratio':>10}{'worst error K':>16}")
    for name, took, error in table:
        print(f"{name:28}{took:>10.3f}{took / own_s:>10.1f}{error:>16.6f}")


if __name__ == "__main__":
    main()
