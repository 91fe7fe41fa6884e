"""The exposure integral of the reference run in numpy and in numba, as peers.

Reads the run that the benchmark wrote and prints one line per variant:
name; best milliseconds by the clock and by the processor; worst relative error against the converged answer in the same file.

Both use what the integrand allows: pieces end at every arc boundary, depth on an arc is a cubic,
and pieces on which the stress passes the knee of the S-N curve are refined. A span bends more in
compression, its middle, and less in tension; none of this run lies on the wall of the hole, which
the benchmark holds, so contact is not in it.
"""

import sys
import time

import numpy as np

M1, A1, M2, A2, KNEE = 4.0, 15.117, 5.0, 17.146, 1e7
S_KNEE = 10 ** ((A1 - np.log10(KNEE)) / M1)
C1, C2 = 10.0**-A1, 10.0**-A2
PLACES = (0.6, 0.9)
SHORTEST = 0.03  # largest turn of a piece of hole, rad
LONGEST = 15.0  # m


def read(path):
    sections, rows = {}, None
    with open(path) as file:
        for line in file:
            if line[0].isalpha():
                rows = sections.setdefault(line.split()[0], [])
            else:
                rows.append([float(x) for x in line.split(",")])
    return {name: np.array(rows) for name, rows in sections.items()}


def hole(survey, deepest):
    """Short arcs: start, curvature and the cubic of true vertical depth on each."""
    md, inc, azi = survey.T
    t = np.c_[np.sin(inc) * np.cos(azi), np.sin(inc) * np.sin(azi), np.cos(inc)]
    half = np.sin(np.diff(inc) / 2) ** 2
    half += np.sin(inc[1:]) * np.sin(inc[:-1]) * np.sin(np.diff(azi) / 2) ** 2
    turn = 2 * np.arcsin(np.sqrt(half))
    starts, kappa, cubics = [], [], []
    depth = 0.0
    for i, beta in enumerate(turn):
        length = md[i + 1] - md[i]
        parts = int(max(np.ceil(beta / SHORTEST), np.ceil(length / LONGEST), 1))
        h = length / parts
        for j in range(parts):
            f = np.array([j, j + 1]) / parts
            if beta > 1e-9:
                v = (np.sin((1 - f) * beta) * t[i, 2] + np.sin(f * beta) * t[i + 1, 2]) / np.sin(beta)
            else:
                v = t[i, 2] + f * (t[i + 1, 2] - t[i, 2])
            b = beta / parts
            ratio = np.tan(b / 2) / (b / 2) if b > 1e-6 else 1 + b * b / 12
            rise = 0.5 * (v[0] + v[1]) * ratio
            starts.append(md[i] + j * h)
            kappa.append(beta / length if beta > 1e-10 else 0.0)
            cubics.append([depth, v[0], (3 * rise - 2 * v[0] - v[1]) / h, (v[0] + v[1] - 2 * rise) / h**2])
            depth += h * rise
    starts.append(md[-1])
    kappa.append(0.0)
    cubics.append([depth, t[-1, 2], 0.0, 0.0])
    return np.array(starts), np.array(kappa), np.array(cubics)


class Run:
    def __init__(self, data):
        self.log = data["log"][data["log"][:, 2] > 0]
        self.tally = data["tally"]
        self.damage = data["damage"]
        self.starts, self.kappa, self.cubics = hole(data["survey"], 0)
        weight = self.tally[:, 3]
        self.bottom = np.r_[0, np.cumsum(self.tally[:, 0])]
        first = np.r_[True, weight[1:] != weight[:-1]]
        self.steps = self.bottom[:-1][first]
        self.changes = np.diff(np.r_[0, weight[first]])

    def error(self, damage):
        used = self.damage > 1e-9
        return np.abs(damage[used] / self.damage[used] - 1).max()

    def places(self, i):
        length = self.tally[i, 0]
        return self.bottom[i] + np.array([PLACES[0], length / 2, length - PLACES[1]])


# ---- numpy ----------------------------------------------------------------------------------


def tvd(run, md):
    i = np.searchsorted(run.starts, md, "right") - 1
    s = md - run.starts[i]
    c = run.cubics[i]
    return c[:, 0] + s * (c[:, 1] + s * (c[:, 2] + s * c[:, 3]))


def hanging(run, levels, bit):
    return sum(run.changes[k] * tvd(run, bit - run.steps[k]) for k in range(levels))


def pieces(run, x):
    """Ends, arc, turns and weight on bit of every smooth piece of a place's walk."""
    low, high = np.minimum(run.log[:, 0], run.log[:, 1]), np.maximum(run.log[:, 0], run.log[:, 1])
    a, b = np.maximum(low - x, 0), high - x
    keep = b > 0
    a, b, low, high, log = a[keep], b[keep], low[keep], high[keep], run.log[keep]
    first = np.searchsorted(run.starts, a, "right") - 1
    last = np.maximum(np.searchsorted(run.starts, b, "left") - 1, first)
    count = last - first + 1
    segment = np.repeat(np.arange(len(a)), count)
    arc = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + first[segment]
    ends = np.r_[run.starts[1:], np.inf]
    start = np.maximum(a[segment], run.starts[arc])
    end = np.minimum(b[segment], ends[arc])
    still = (high == low)[segment]
    span = np.where(still, 1, (high - low)[segment])
    turns = np.where(still, log[segment, 2], log[segment, 2] * (end - start) / span)
    bent = run.kappa[arc] > 0
    return start[bent], end[bent], arc[bent], turns[bent], log[segment, 3][bent]


def stress(run, i, end, tension, kappa):
    od, bore, young, ultimate, spans = run.tally[i, [1, 2, 4, 5, 6]]
    area = np.pi / 4 * (od**2 - bore**2)
    stiffness = young * np.pi / 64 * (od**4 - bore**4)
    t = np.maximum(tension, 0)
    bending = young * od / 2 * kappa
    if spans:
        u = np.maximum(np.sqrt(np.abs(tension) / stiffness) * run.tally[i, 0] / 2, 1e-6)
        pulled = u / (np.tanh(u) if end else np.sinh(u))
        pressed = np.abs(u / np.tan(u)) if end else u / np.sin(u)
        bending = bending * np.where(tension >= 0, pulled, pressed)
    return 2e-6 * bending / (1 - t / area / ultimate)


def per_turn(s):
    square = s * s
    return np.where(s >= S_KNEE, C1 * square * square, C2 * square * square * s)


def numpy_run(run, points, refine):
    x, w = np.polynomial.legendre.leggauss(points)
    x, w = (1 + x) / 2, w / 2
    out = np.zeros((len(run.tally), 3))
    for i in range(len(run.tally)):
        for place, distance in enumerate(run.places(i)):
            start, end, arc, turns, wob = pieces(run, distance)
            if not len(start):
                continue
            levels = np.searchsorted(run.steps, distance, "right")
            weight = run.tally[i, 3]

            def damage(start, end, arc, wob):
                md = (start[:, None] + (end - start)[:, None] * x).ravel()
                force = hanging(run, levels, md + distance)
                tension = force - np.repeat(wob, points) - weight * tvd(run, md)
                s = stress(run, i, place != 1, tension, np.repeat(run.kappa[arc], points))
                s = s.reshape(-1, points)
                return per_turn(s) @ w, s

            rate, s = damage(start, end, arc, wob)
            # pieces near the knee again, in many parts
            reach = s.max(1) - s.min(1)
            near = np.flatnonzero((s.min(1) - reach < S_KNEE) & (s.max(1) + reach > S_KNEE))
            if refine and len(near):
                f = np.linspace(0, 1, refine + 1)
                step = (end - start)[near]
                a = (start[near][:, None] + step[:, None] * f[:-1]).ravel()
                b = (start[near][:, None] + step[:, None] * f[1:]).ravel()
                fine, _ = damage(a, b, np.repeat(arc[near], refine), np.repeat(wob[near], refine))
                rate[near] = fine.reshape(-1, refine).mean(1)
            out[i, place] = turns @ rate
    return out


# ---- numba ----------------------------------------------------------------------------------


def numba_kernels():
    import math

    from numba import njit, prange

    @njit(inline="always")
    def at(starts, cubics, md, near):
        while near + 1 < len(starts) and starts[near + 1] <= md:
            near += 1
        while near > 0 and starts[near] > md:
            near -= 1
        s = md - starts[near]
        return cubics[near, 0] + s * (cubics[near, 1] + s * (cubics[near, 2] + s * cubics[near, 3])), near

    @njit(inline="always")
    def stress_of(t, kappa, bending, slender, area_ultimate, end):
        u = math.sqrt(abs(t) * slender)
        g = 1.0
        if u > 1e-6 and t >= 0.0:
            g = u / math.tanh(u) if end else u / math.sinh(u)
        elif u > 1e-6:
            g = abs(u / math.tan(u)) if end else u / math.sin(u)
        return 2e-6 * bending * kappa * g / (1 - max(t, 0.0) / area_ultimate)

    @njit(inline="always")
    def damage_of(s, s_knee, c1, c2):
        square = s * s
        return c1 * square * square if s >= s_knee else c2 * square * square * s

    def body(log, tally, bottom, starts, kappa, cubics, steps, changes, x, w, refine, s_knee, c1, c2, out):
        for i in prange(len(tally)):
            length, od, bore = tally[i, 0], tally[i, 1], tally[i, 2]
            area_ultimate = math.pi / 4 * (od**2 - bore**2) * tally[i, 5]
            stiffness = tally[i, 4] * math.pi / 64 * (od**4 - bore**4)
            slender = length * length / 4 / stiffness if tally[i, 6] > 0 else 0.0
            bending = tally[i, 4] * od / 2
            weight = tally[i, 3]
            near = np.zeros(len(steps), np.int64)
            for place in range(3):
                d = bottom[i] + (0.6 if place == 0 else (length / 2 if place == 1 else length - 0.9))
                levels = np.searchsorted(steps, d, "right")
                total, arc = 0.0, 0
                for k in range(len(log)):
                    low, high = min(log[k, 0], log[k, 1]), max(log[k, 0], log[k, 1])
                    a, b = max(low - d, 0.0), high - d
                    if b <= 0:
                        continue
                    _, arc = at(starts, cubics, a, arc)
                    start = a
                    while True:
                        end = min(starts[arc + 1] if arc + 1 < len(starts) else b, b)
                        if kappa[arc] > 0:
                            turns = log[k, 2] * ((end - start) / (high - low) if high > low else 1.0)
                            parts, smallest, largest = 1, 1e300, 0.0
                            for attempt in range(2):
                                sum_ = 0.0
                                for part in range(parts):
                                    h = (end - start) / parts
                                    for q in range(len(x)):
                                        md = start + h * (part + x[q])
                                        force = -log[k, 3] - weight * at(starts, cubics, md, arc)[0]
                                        for level in range(levels):
                                            v, near[level] = at(starts, cubics, md + d - steps[level], near[level])
                                            force += changes[level] * v
                                        s = stress_of(force, kappa[arc], bending, slender, area_ultimate, place != 1)
                                        smallest, largest = min(s, smallest), max(s, largest)
                                        sum_ += w[q] * damage_of(s, s_knee, c1, c2)
                                sum_ /= parts
                                reach = largest - smallest
                                if smallest - reach >= s_knee or largest + reach <= s_knee:
                                    break
                                parts = refine
                            total += turns * sum_
                        if end >= b:
                            break
                        start = end
                        arc += 1
                out[i, place] = total

    return njit(body), njit(parallel=True)(body)


def timed(work, rounds):
    """Best times of some rounds by the clock and by the processor, in milliseconds."""
    clock, busy = [], []
    for _ in range(rounds):
        start, spent = time.perf_counter(), time.process_time()
        result = work()
        clock.append(time.perf_counter() - start)
        busy.append(time.process_time() - spent)
    return f"{min(clock) * 1e3:.2f};{min(busy) * 1e3:.2f}", result


def main():
    run = Run(read(sys.argv[1]))
    for points, refine in ((1, 0), (2, 0), (2, 64), (3, 64), (4, 64)):
        name = f"numpy, {points} points, arcs" + (", refined at the knee" if refine else "")
        ms, damage = timed(lambda: numpy_run(run, points, refine), 5)
        print(f"{name};{ms};{run.error(damage):.3e}", flush=True)
    try:
        import numba

        numba.set_num_threads(min(2, numba.config.NUMBA_NUM_THREADS))
        kernels = numba_kernels()
    except ImportError:
        return
    for points in (2, 4):
        x, w = np.polynomial.legendre.leggauss(points)
        x, w = (1 + x) / 2, w / 2
        for threads, kernel in zip((1, 2), kernels):
            out = np.zeros((len(run.tally), 3))

            def work():
                kernel(run.log, run.tally, run.bottom, run.starts, run.kappa, run.cubics,
                       run.steps, run.changes, x, w, 64, S_KNEE, C1, C2, out)
                return out

            work()
            ms, damage = timed(work, 21)
            print(f"numba, {points} points, arcs, refined, {threads} thread(s);{ms};{run.error(damage):.3e}", flush=True)


main()
