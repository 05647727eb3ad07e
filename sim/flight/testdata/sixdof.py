#!/usr/bin/env python3
"""The second path of sixdof_test.go: the same equations of motion, written separately and solved by
SciPy's solve_ivp (DOP853). It reads a vehicle's resolved numbers as JSON on standard input, in SI
units and radians, and prints what it finds up to apogee as JSON.

What is separate: vectors in world axes, the attitude as a matrix, the angular velocity in world axes,
forces part by part as vectors, mass properties summed from the parts, the atmosphere and gravity in
closed form, phases cut by root finding. What is shared: the numbers that are read, among them the
fins' tables over Mach number."""
import json
import sys
from math import cos, exp, sin, sqrt

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, minimize_scalar

GAS, G0, RADIUS = 8314.32 / 28.9644, 9.80665, 6356766.0
BANDS = [(0, 288.15, -0.0065), (11000, 216.65, 0.0), (20000, 216.65, 0.001), (32000, 228.65, 0.0028)]
WIDTH = 0.05  # of a cell of the fins' tables, in Mach number


class Air:
    """US Standard Atmosphere 1976, shifted to a temperature and in balance from a pressure at the site.
    For sites in the lowest band."""

    def __init__(self, site):
        self.foot = site["elevation"]
        self.h = RADIUS * self.foot / (RADIUS + self.foot)
        self.shift = site["temperature"] - (288.15 - 0.0065 * self.h)
        self.pressure = site["pressure"]

    def at(self, up):
        z = self.foot + up
        h, p, low = RADIUS * z / (RADIUS + z), self.pressure, self.h
        for i, (foot, t0, lapse) in enumerate(BANDS):
            top = min(h, BANDS[i + 1][0]) if i + 1 < len(BANDS) else h
            a = t0 + self.shift + lapse * (low - foot)
            b = t0 + self.shift + lapse * (top - foot)
            p *= exp(-G0 * (top - low) / (GAS * a)) if lapse == 0 else (b / a) ** (-G0 / (GAS * lapse))
            low = top
            if h <= top:
                break
        return p / (GAS * b), sqrt(1.4 * GAS * b)


def gravity(site, up):
    """WGS 84 normal gravity, NIMA TR8350.2."""
    s2, f, m, a = sin(site["latitude"]) ** 2, 1 / 298.257223563, 3.44978650684e-3, 6378137.0
    g = 9.7803253359 * (1 + 1.93185265241e-3 * s2) / sqrt(1 - 6.69437999014e-3 * s2)
    h = site["elevation"] + up
    return g * (1 - 2 / a * (1 + f + m - 2 * f * s2) * h + 3 * h * h / a / a)


def earth(site):
    """The earth's angular velocity east, north, up (NIMA TR8350.2); what hangs on the rail doesn't feel it."""
    return 7.292115e-5 * np.array([0.0, cos(site["latitude"]), sin(site["latitude"])])


def wind(w, up):
    if w["speed"] == 0:
        return np.zeros(3)
    v = w["speed"] * (max(up, 0.0625) / w["height"]) ** w["exponent"]
    return np.array([-v * sin(w["from"]), -v * cos(w["from"]), 0.0])


def cell(table, mach):
    """A cubic of a table over Mach number."""
    x = mach / WIDTH
    i = min(int(x), len(table) - 1)
    c, x = table[i], x - i
    return c[0] + x * (c[1] + x * (c[2] + x * c[3]))


class Motor:
    def __init__(self, spec, lit):
        self.spec, self.lit = spec, lit
        self.t = np.array(spec["times"]) + lit
        self.f = np.array(spec["thrust"])
        self.total = float(np.sum((self.f[1:] + self.f[:-1]) / 2 * np.diff(self.t)))

    def at(self, t):
        """Thrust, kilograms burnt each second, kilograms left."""
        full = self.spec["propellant"]
        if t <= self.t[0]:
            return float(self.f[0]) if t == self.t[0] else 0.0, 0.0, full
        if t >= self.t[-1]:
            return 0.0, 0.0, 0.0
        f = float(np.interp(t, self.t, self.f))
        i = int(np.searchsorted(self.t, t, side="right")) - 1
        done = float(np.sum((self.f[1:i + 1] + self.f[:i]) / 2 * np.diff(self.t[:i + 1])))
        done += (t - self.t[i]) * (self.f[i] + f) / 2
        return f, full * f / self.total, full * (1 - done / self.total)


def cylinder(mass, length, diameter):
    r2 = diameter ** 2 / 4
    return mass * r2 / 2, mass * (3 * r2 + length ** 2) / 12


def shell(mass, length, diameter):
    r2 = diameter ** 2 / 4
    return mass * r2, mass * (6 * r2 + length ** 2) / 12


class Body:
    """Stages top to low as one rigid body."""

    def __init__(self, craft, form, motors):
        self.craft, self.form, self.air = craft, form, Air(craft["site"])
        self.stages = craft["stages"][form["top"]:form["low"] + 1]
        self.motors = motors[form["top"]:form["low"] + 1]

    def weigh(self, t):
        """Mass, centre of gravity from the front, axial and transverse inertia, thrust, jet damping."""
        lumps, thrust, jets, front = [], 0.0, [], 0.0
        for s, m in zip(self.stages, self.motors):
            lumps.append((s["mass"], front + s["cg"], s["axial"], s["transverse"]))
            o = m.spec
            middle = front + o["station"] + o["length"] / 2
            f, flow, left = m.at(t)
            lumps.append((o["case"], middle) + shell(o["case"], o["length"], o["diameter"]))
            lumps.append((left, middle) + cylinder(left, o["length"], o["diameter"]))
            thrust += f
            own = cylinder(1, o["length"], o["diameter"])[1]
            jets.append((flow, front + o["station"] + o["length"], middle, own))
            front += s["length"]
        mass = sum(l[0] for l in lumps)
        cg = sum(l[0] * l[1] for l in lumps) / mass
        across = sum(l[3] + l[0] * (l[1] - cg) ** 2 for l in lumps)
        return mass, cg, sum(l[2] for l in lumps), across, thrust, sum(q * ((n - cg) ** 2 - own - (p - cg) ** 2) for q, n, p, own in jets)

    def forces(self, t, y):
        """Acceleration and angular acceleration in world axes, without the rail."""
        mass, cg, axial, across, thrust, jet = self.weigh(t)
        turn, omega = y[6:15].reshape(3, 3), y[15:18]
        nose = turn[:, 0]
        through = y[3:6] - wind(self.craft["wind"], y[2])
        rho, sound = self.air.at(y[2])
        speed = sqrt(through @ through)
        mach = speed / sound
        ahead = float(through @ nose)
        force, torque = thrust * nose, np.zeros(3)
        for d in self.form["drags"]:
            cd = np.interp(mach, d["mach"], d["cd"])
            force = force - 0.5 * rho * speed * ahead * cd * d["area"] * nose
        for p in self.form["parts"]:
            fin, arm = p["fin"], cg - p["place"]
            if p["slope"]:
                fin *= cell(p["slope"], mach)
                arm -= cell(p["shift"], mach)
            local = through + np.cross(omega, arm * nose)
            side = local - (local @ nose) * nose
            lift = -rho * (p["body"] * ahead + fin * abs(ahead) + p["cross"] * sqrt(side @ side)) * side
            force = force + lift
            torque = torque + np.cross(arm * nose, lift)
        r, spin = self.form["roll"], float(omega @ nose)
        swing = abs(ahead) * (cell(r["slope"], mach) if r["slope"] else 1.0)
        torque = torque + rho * (r["force"] * ahead * swing - spin * (r["damp"] * swing + r["drag"] * abs(spin))) * nose
        torque = torque - jet * (omega - spin * nose)
        inertia = across * np.eye(3) + (axial - across) * np.outer(nose, nose)
        angular = np.linalg.solve(inertia, torque - np.cross(omega, inertia @ omega))
        a = force / mass
        a[2] -= gravity(self.craft["site"], y[2])
        return a, angular

    def free(self, t, y):
        a, angular = self.forces(t, y)
        a = a - 2 * np.cross(earth(self.craft["site"]), y[3:6])
        turn = y[6:15].reshape(3, 3)
        spun = np.cross(y[15:18], turn.T).T  # each axis turns with omega
        return np.concatenate([y[3:6], a, spun.reshape(9), angular])

    def railed(self, t, y):
        a, _ = self.forces(t, y)
        nose = y[6:15].reshape(3, 3)[:, 0]
        return np.concatenate([y[3:6], (a @ nose) * nose, np.zeros(12)])


def solve(f, y, begin, end, event=None):
    return solve_ivp(f, (begin, end), y, method="DOP853", rtol=1e-11, atol=1e-12, max_step=0.05, dense_output=True, events=event)


def fastest(sol):
    best = 0.0
    for a, b in zip(sol.t[:-1], sol.t[1:]):
        r = minimize_scalar(lambda t: -np.linalg.norm(sol.sol(t)[3:6]), bounds=(a, b), method="bounded", options={"xatol": 1e-7})
        best = max(best, -r.fun, np.linalg.norm(sol.y[3:6, 0]), np.linalg.norm(sol.sol(b)[3:6]))
    return best


def on_pad(craft):
    rail = craft["rail"]
    tilt, az = rail["tilt"], rail["azimuth"]
    level = np.array([-cos(az), sin(az), 0.0])  # the axis it leans about
    upright = np.array([[0.0, -1, 0], [0, 0, -1], [1, 0, 0]])  # x up, y west, z south
    k = np.array([[0, -level[2], level[1]], [level[2], 0, -level[0]], [-level[1], level[0], 0]])
    turn = (np.eye(3) + sin(tilt) * k + (1 - cos(tilt)) * k @ k) @ upright  # Rodrigues
    return np.concatenate([np.zeros(6), turn.reshape(9), np.zeros(3)])


def fly(craft):
    motors = [Motor(s["motor"], s["lit"]) for s in craft["stages"]]
    bodies = [Body(craft, f, motors) for f in craft["bodies"]]
    body, y = bodies[0], on_pad(craft)
    nose = y[6:15].reshape(3, 3)[:, 0]
    corners = sorted({float(t) for m in motors for t in m.t} | {c["at"] for c in craft["parts"]})
    pull = lambda t: float(body.forces(t, y)[0] @ nose)
    now = motors[-1].lit
    if pull(now + 1e-9) < 0:
        now = brentq(pull, now, now + craft["settled"], xtol=1e-13)
    liftoff, fast, rails, gone = now, 0.0, True, list(craft["parts"])
    gone_rail = lambda t, y: float(y[0:3] @ nose) - craft["rail"]["length"]
    gone_rail.terminal = True
    top = lambda t, y: y[5]
    top.terminal, top.direction = True, -1
    while now < 300:
        end = next((c for c in corners if c > now + 1e-12), 300.0)
        sol = solve(body.railed if rails else body.free, y, now, end, gone_rail if rails else top)
        fast = max(fast, fastest(sol))
        y, now = sol.y[:, -1].copy(), float(sol.t[-1])
        if sol.status == 1 and not rails:
            turn = y[6:15].reshape(3, 3)
            return {"liftoff": liftoff, "apogee_at": now, "apogee": y[2], "speed": fast, "nose": list(turn[:, 0]), "left": list(turn[:, 1]), "omega": list(y[15:18]), "east": y[0], "north": y[1]}
        if sol.status == 1:
            rails = False
            continue
        if gone and abs(now - gone[0]["at"]) < 1e-9:
            before, speed = body.weigh(now), gone.pop(0)["speed"]
            body = bodies[len(bodies) - len(gone) - 1]
            after = body.weigh(now)
            axis = y[6:15].reshape(3, 3)[:, 0]
            ahead = before[1] - after[1]  # both from the same front end
            y[0:3] += ahead * axis
            y[3:6] += np.cross(y[15:18], ahead * axis) + speed * (1 - after[0] / before[0]) * axis
    raise SystemExit("no apogee")


print(json.dumps(fly(json.load(sys.stdin))))
