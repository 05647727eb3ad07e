# Makes testdata/smoother.csv: a Kalman filter and Rauch-Tung-Striebel smoother written independently
# with NumPy (joint measurement updates in Joseph form, explicit inverse), for a case drawn here.
# Run: python3 smoother_check.py > smoother.csv   (Debian: python3-numpy)
import numpy as np

rng = np.random.default_rng(20261125)
n, steps, dt = 5, 60, 0.02
F = np.eye(n)
F[0, 1] = dt
F[0, 2] = dt * dt / 2
F[1, 2] = dt
Q = np.diag([1e-6, 1e-5, 4.0, 1e-7, 1e-4])
H = {0: ([1, 0, 0, 0, 0], 0.06), 1: ([0, 0, 1, 1, 0], 0.004), 2: ([1, 0, 0, 0, 1], 9.0), 3: ([0, 1, 0, 0, 0], 0.01)}
x, P = np.zeros(n), np.diag([4.0, 1.0, 9.0, 0.25, 100.0])
truth = np.array([0.3, 0.2, 5.0, 0.15, 4.0])
print(f"# NumPy {np.__version__}, seed 20261125; kind,step,values: z = measurement (tag, value), x = smoothed mean, p = smoothed variances, i = joint log-likelihood")
xs, Ps, xp, Pp, ll = [], [], [], [], 0.0
for k in range(steps):
    truth = F @ truth + rng.normal(size=n) * np.sqrt(np.diag(Q))
    tags = [0, 1] + ([2, 3] if k % 5 == 0 else [])
    if 20 <= k < 30:
        tags = [t for t in tags if t != 1]
    x, P = F @ x, F @ P @ F.T + Q
    xp.append(x.copy()); Pp.append(P.copy())
    Hk = np.array([H[t][0] for t in tags], float)
    R = np.diag([H[t][1] for t in tags])
    z = Hk @ truth + rng.normal(size=len(tags)) * np.sqrt(np.diag(R))
    for t, v in zip(tags, z):
        print(f"z,{k},{t},{float(v)!r}")
    S = Hk @ P @ Hk.T + R
    K = P @ Hk.T @ np.linalg.inv(S)
    nu = z - Hk @ x
    ll += -0.5 * (nu @ np.linalg.inv(S) @ nu + np.log(np.linalg.det(S)) + len(tags) * np.log(2 * np.pi))
    x = x + K @ nu
    A = np.eye(n) - K @ Hk
    P = A @ P @ A.T + K @ R @ K.T
    xs.append(x.copy()); Ps.append(P.copy())
for k in range(steps - 2, -1, -1):
    C = Ps[k] @ F.T @ np.linalg.inv(Pp[k + 1])
    xs[k] = xs[k] + C @ (xs[k + 1] - xp[k + 1])
    Ps[k] = Ps[k] + C @ (Ps[k + 1] - Pp[k + 1]) @ C.T
for k in range(steps):
    print("x,%d,%s" % (k, ",".join(repr(float(v)) for v in xs[k])))
    print("p,%d,%s" % (k, ",".join(repr(float(v)) for v in np.diag(Ps[k]))))
print("i,0,%r" % float(ll))
