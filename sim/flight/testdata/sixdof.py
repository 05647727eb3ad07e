#!/usr/bin/env python3
"""The second path of sixdof_test.go: the same equations of motion, written separately and solved by
SciPy's solve_ivp (DOP853). It reads a vehicle's resolved numbers as JSON on standard input, in SI
units and radians, and prints what it finds up to apogee as JSON.

What is separate: vectors in world axes, the attitude as a matrix, the angular velocity in world axes,
forces part by part as vectors, mass properties summed from the parts, the atmosphere and gravity in
closed form, phases cut by root finding. What is shared: the numbers that are read, among them the
fins' tables over Mach number. A body that says "own" has its nose, sides and fins worked out here from
its sizes, with the crossflow drag of its sides summed over strips, and its skin friction from the
formulas; then only the tables over Mach number are shared."""
import json
import sys
from math import cos, exp, hypot, log, log10, pi, sin, sqrt

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
        """Pressure, density, speed of sound, temperature."""
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
        return p, p / (GAS * b), sqrt(1.4 * GAS * b), b


def gravity(site, up):
    """WGS 84 normal gravity, NIMA TR8350.2."""
    s2, f, m, a = sin(site["latitude"]) ** 2, 1 / 298.257223563, 3.44978650684e-3, 6378137.0
    g = 9.7803253359 * (1 + 1.93185265241e-3 * s2) / sqrt(1 - 6.69437999014e-3 * s2)
    h = site["elevation"] + up
    return g * (1 - 2 / a * (1 + f + m - 2 * f * s2) * h + 3 * h * h / a / a)


def earth(site):
    """The earth's angular velocity east, north, up (NIMA TR8350.2); what hangs on the rail doesn't feel it."""
    return 7.292115e-5 * np.array([0.0, cos(site["latitude"]), sin(site["latitude"])])


def radius(site):
    """Of the ellipsoid at the site, from its two principal radii (WGS 84)."""
    e2, s2 = 6.69437999014e-3, sin(site["latitude"]) ** 2
    along = 6378137.0 * (1 - e2) / (1 - e2 * s2) ** 1.5
    return sqrt(along * 6378137.0 / sqrt(1 - e2 * s2)) + site["elevation"]


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


SHORT = [(1, 0.64), (2, 0.68), (5, 0.74), (10, 0.82), (20, 0.91), (40, 0.98)]  # Cd of a cylinder by length/diameter
STRIPS = 200


class Sides:
    """Crossflow drag of a cone and a tube behind it, in strips (NACA Report 1048)."""

    def __init__(self, length, nose, diameter):
        self.at = (np.arange(STRIPS) + 0.5) * length / STRIPS
        wide = diameter * np.minimum(1.0, self.at / nose)
        strip = wide * length / STRIPS
        slim = length ** 2 / float(np.sum(strip))
        cd = float(np.interp(log(slim), [log(f) for f, _ in SHORT], [c for _, c in SHORT]))
        self.half = 0.5 * cd * strip

    def load(self, rho, across, turning, cg):
        """Force and moment of the velocity across and of what each metre ahead of the centre of gravity adds to it."""
        arm = cg - self.at
        v = across + arm[:, None] * turning
        f = -rho * (self.half * np.sqrt(np.sum(v * v, axis=1)))[:, None] * v
        return f.sum(axis=0), (arm[:, None] * f).sum(axis=0)


def own_parts(stage):
    """Barrowman's nose and fins of a cone, a tube and one set of fins; crowded fins by MIL-HDBK-762."""
    d, fins = stage["diameter"], stage["fins"]
    n, root, tip, span, sweep = (fins[k] for k in ("count", "root", "tip", "span", "sweep"))
    middle = hypot(span, sweep + tip / 2 - root / 2)
    slope = 4 * n * (span / d) ** 2 / (1 + sqrt(1 + (2 * middle / (root + tip)) ** 2)) * pi * d * d / 4
    slope *= (1 + d / 2 / (span + d / 2)) * {5: 0.948, 6: 0.913, 7: 0.854, 8: 0.81}.get(n, 1.0)
    behind = sweep / 3 * (root + 2 * tip) / (root + tip) + (root + tip - root * tip / (root + tip)) / 6
    plate = 1.2 * n / 2 * span * (root + tip) / 2 / 2
    return [{"place": stage["nose"] * 2 / 3, "body": pi * d * d / 4, "fin": 0, "cross": 0, "slope": [], "shift": []},
            {"place": fins["station"] + behind, "body": 0, "fin": slope / 2, "cross": plate, "slope": fins["slope"], "shift": fins["shift"]}]


def built_area(b, mach, speed, rho, temperature, burning):
    """Drag area with skin friction by the formulas: Prandtl and Schlichting; rough above a Reynolds number (Raymer)."""
    mu = 1.458e-6 * temperature ** 1.5 / (temperature + 110.4)
    friction = 0.0
    for w in b["wetted"]:
        re = max(rho * speed * w["length"] / mu, 100)
        slim = (w["length"] / b["roughness"]) ** 1.053
        limit = max(38.21 * slim, 44.62 * slim * mach ** 1.16)
        c = 1.328 / sqrt(re)
        if re >= 2 ** 18:
            c = max(c, 0.455 / log10(min(re, limit)) ** 2.58 - 1700 / re)
        friction += w["area"] * c
    return friction * cell(b["factor"], mach) + cell(b["on" if burning else "off"], mach)


class Body:
    """Stages top to low as one rigid body."""

    def __init__(self, craft, form, motors):
        self.craft, self.form, self.air = craft, form, Air(craft["site"])
        self.stages = craft["stages"][form["top"]:form["low"] + 1]
        self.motors = motors[form["top"]:form["low"] + 1]
        self.parts, self.sides = form["parts"], None
        if form.get("own"):
            (s,) = self.stages
            self.parts, self.sides = own_parts(s), Sides(s["length"], s["nose"], s["diameter"])

    def weigh(self, t):
        """Mass, centre of gravity from the front, axial and transverse inertia, thrusts, jet damping."""
        lumps, thrust, jets, front = [], [], [], 0.0
        for s, m in zip(self.stages, self.motors):
            lumps.append((s["mass"], front + s["cg"], s["axial"], s["transverse"]))
            o = m.spec
            middle = front + o["station"] + o["length"] / 2
            f, flow, left = m.at(t)
            lumps.append((o["case"], middle) + shell(o["case"], o["length"], o["diameter"]))
            lumps.append((left, middle) + cylinder(left, o["length"], o["diameter"]))
            thrust.append((f, o["exit"], o["tested"]))
            own = cylinder(1, o["length"], o["diameter"])[1]
            jets.append((flow, front + o["station"] + o["length"], middle, own))
            front += s["length"]
        mass = sum(l[0] for l in lumps)
        cg = sum(l[0] * l[1] for l in lumps) / mass
        across = sum(l[3] + l[0] * (l[1] - cg) ** 2 for l in lumps)
        return mass, cg, sum(l[2] for l in lumps), across, thrust, sum(q * ((n - cg) ** 2 - own - (p - cg) ** 2) for q, n, p, own in jets)

    def forces(self, t, y):
        """Acceleration and angular acceleration in world axes, without the rail."""
        mass, cg, axial, across, thrusts, jet = self.weigh(t)
        turn, omega = y[6:15].reshape(3, 3), y[15:18]
        nose = turn[:, 0]
        through = y[3:6] - wind(self.craft["wind"], y[2])
        pressure, rho, sound, temperature = self.air.at(y[2])
        thrust = 0.0
        for f, area, tested in thrusts:
            full = f >= area * tested
            thrust += f + (area if full else f / tested) * (tested - pressure)
        speed = sqrt(through @ through)
        mach = speed / sound
        ahead = float(through @ nose)
        force, torque = thrust * nose, np.zeros(3)
        for d in self.form["drags"]:
            cd = np.interp(mach, d["mach"], d["cd"])
            force = force - 0.5 * rho * speed * ahead * cd * d["area"] * nose
        if self.form.get("built"):
            area = built_area(self.form["built"], mach, speed, rho, temperature, thrust > 0)
            force = force - 0.5 * rho * speed * ahead * area * nose
        if self.sides:
            push, lever = self.sides.load(rho, through - ahead * nose, np.cross(omega, nose), cg)
            force, torque = force + push, torque + np.cross(nose, lever)
        for p in self.parts:
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
        site, v = self.craft["site"], y[3:6]
        a = a - 2 * np.cross(earth(site), v)
        ground = radius(site)
        far = ground + y[2]
        a = a - np.cross([-v[1] / far, v[0] / far, 0.0], v)  # the plumb line turns along the way
        turn = y[6:15].reshape(3, 3)
        spun = np.cross(y[15:18], turn.T).T  # each axis turns with omega
        over = ground / far  # places are distances over the ground
        return np.concatenate([[over * v[0], over * v[1], v[2]], a, spun.reshape(9), angular])

    def railed(self, t, y):
        a, _ = self.forces(t, y)
        nose = y[6:15].reshape(3, 3)[:, 0]
        return np.concatenate([y[3:6], (a @ nose) * nose, np.zeros(12)])


def solve(f, y, begin, end, tolerance, event):
    return solve_ivp(f, (begin, end), y, method="DOP853", rtol=tolerance, atol=tolerance / 10, max_step=0.05, dense_output=True, events=event)


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
        sol = solve(body.railed if rails else body.free, y, now, end, craft["tolerance"], gone_rail if rails else top)
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
