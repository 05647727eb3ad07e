#!/usr/bin/env python3
"""Reference flights for solver_test.go: the same equations written separately, solved by SciPy's
solve_ivp (DOP853, rtol 1e-12), phase by phase. Prints one line per vehicle:
name,apogee_time_s,apogee_m,greatest_speed_m_s. Run: /usr/bin/python3 vertical.py > vertical.csv"""
from math import pi, exp
from scipy.integrate import solve_ivp

R, G0, RE = 8314.32 / 28.9644, 9.80665, 6356766.0
BANDS = [(0, 288.15, -0.0065), (11000, 216.65, 0.0), (20000, 216.65, 0.001), (32000, 228.65, 0.0028)]

def air(z):
    h, p = RE * z / (RE + z), 101325.0
    for i, (foot, t0, lapse) in enumerate(BANDS):
        top = min(h, BANDS[i + 1][0]) if i + 1 < len(BANDS) else h
        t = t0 + lapse * (top - foot)
        p *= exp(-G0 * (top - foot) / (R * t0)) if lapse == 0 else (t / t0) ** (-G0 / (R * lapse))
        if h <= top:
            break
    return p / (R * t), (1.4 * R * t) ** 0.5

def gravity(z):  # WGS 84 normal gravity at 45 degrees
    s2, f, m, a = 0.5, 1 / 298.257223563, 3.44978650684e-3, 6378137.0
    g = 9.7803253359 * (1 + 1.93185265241e-3 * s2) / (1 - 6.69437999014e-3 * s2) ** 0.5
    return g * (1 - 2 / a * (1 + f + m - 2 * f * s2) * z + 3 * z * z / a / a)

def table(points, x):
    if x <= points[0][0]: return points[0][1]
    for (a, p), (b, q) in zip(points, points[1:]):
        if x < b: return p + (q - p) * (x - a) / (b - a)
    return points[-1][1]

def phase(y, t0, t1, cd, d, force, mass):
    def rhs(t, y):
        rho, a = air(y[0])
        drag = 0.5 * rho * y[1] * abs(y[1]) * table(cd, abs(y[1]) / a) * pi / 4 * d * d
        return [y[1], (force(t) - drag) / mass(t) - gravity(y[0])]
    ev = lambda t, y: y[1] if t > 0.1 else 1.0
    ev.terminal, ev.direction = True, -1
    return solve_ivp(rhs, (t0, t1), y, method="DOP853", rtol=1e-12, atol=1e-12, max_step=0.05, events=ev, dense_output=True)

def peak(sol, a, b):
    g = 0.6180339887498949
    f = lambda t: sol(t)[1]
    n = 400
    best = max(range(n + 1), key=lambda i: f(a + (b - a) * i / n))
    l, r = a + (b - a) * max(best - 1, 0) / n, a + (b - a) * min(best + 1, n) / n
    for _ in range(60):
        x, y = r - g * (r - l), l + g * (r - l)
        if f(x) >= f(y): r = y
        else: l = x
    return max(f(l), f(r))

def fly(name, phases):
    """phases: (until, cd, diameter, mass at its start, thrust (falls linearly from a to b), propellant, jump of the height at its end)"""
    y, t, fast = [0.0, 0.0], 0.0, 0.0
    for until, cd, d, m0, a, b, prop, *more in phases:
        jump = more[0] if more else 0.0
        span = until - t
        imp = (a + b) / 2 * span
        thrust = (lambda s, t0=t: a + (b - a) * (s - t0) / span) if prop else (lambda s: 0.0)
        left = (lambda s, t0=t: m0 - prop * (a * (s - t0) + (b - a) * (s - t0) ** 2 / 2 / span) / imp) if prop else (lambda s: m0)
        sol = phase(y, t, until, cd, d, thrust, left)
        fast = max(fast, peak(sol.sol, t, sol.t[-1]))
        y, t = list(sol.y[:, -1]), sol.t[-1]
        y[0] += jump
    print(f"{name},{t:.12g},{y[0]:.12g},{fast:.12g}")

print("# SciPy solve_ivp DOP853, rtol 1e-12, by vertical.py: name,apogee_time_s,apogee_m,greatest_speed_m_s")
flat, rise = [(0, 0.55)], [(0, 0.5), (0.8, 0.52), (1.05, 0.8), (1.5, 0.65)]
fly("subsonic", [(2.0, flat, 0.054, 1.06, 60, 40, 0.06), (100, flat, 0.054, 1.0, 0, 0, 0)])
fly("transonic", [(3.0, rise, 0.075, 4.5, 900, 500, 1.0), (200, rise, 0.075, 3.5, 0, 0, 0)])
# Parting moves the centre of gravity from the stack's to the upper stage's: 1.85 kg at 0.5 m and 0.15 kg at
# 0.05 m from the nose; the empty lower stage is 1 kg at 1.5 m.
upper = (1.85 * 0.5 + 0.15 * 0.05) / 2.0
gap = (2.0 * upper + 1.5) / 3.0 - upper
fly("two-stage", [(2.0, flat, 0.06, 3.2, 180, 120, 0.2), (3.5, flat, 0.06, 3.0, 0, 0, 0, gap),
                  (5.5, flat, 0.06, 2.0, 120, 90, 0.15), (200, flat, 0.06, 1.85, 0, 0, 0)])
