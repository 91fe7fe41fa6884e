"""Geometry and counting: where a joint was while it turned, and in how sharp a bend.

A run is a list of spells: stretches of time in which the bit moves at constant speed. Hours and
turns are spread evenly over a spell; a joint's count while its middle is below the rotary table.
The bend of a joint is the sharpest curvature of hole anywhere from its pin shoulder to its box
shoulder (`DOGLEG = "middle"` gives the curvature at its middle instead).
"""

import bisect
import math

import quantity
from words import ACTIVITIES, MAKES_HOLE

DOGLEG = "anywhere"
# Bands of dogleg are 0.5 deg/30 m wide, the last one open.
BAND = 0.5 / 30
BANDS = 61


class Path:
    """A surveyed hole: arcs of constant curvature between stations, in metres and degrees."""

    def __init__(self, body):
        rows = []
        for md, inclination, azimuth in body["stations"]:
            rows.append((
                quantity.read(f"{md} {body['depth_unit']}", "length")[1],
                quantity.read(f"{inclination} {body['angle_unit']}", "angle")[1],
                quantity.read(f"{azimuth} {body['angle_unit']}", "angle")[1],
            ))
        self.depths = [row[0] for row in rows]
        self.curvature = [bend(a, b) for a, b in zip(rows, rows[1:])]

    def at(self, depth):
        """Curvature of the arc at a depth, deg/m."""
        i = bisect.bisect_right(self.depths, depth) - 1
        return self.curvature[i] if 0 <= i < len(self.curvature) else 0.0

    def sharpest(self, top, bottom):
        """Largest curvature of the arcs that a stretch of hole overlaps over more than a point."""
        first = bisect.bisect_right(self.depths, max(top, 0.0) + 1e-9) - 1
        last = bisect.bisect_left(self.depths, bottom - 1e-9)
        arcs = self.curvature[max(first, 0) : max(last, 0)]
        return max(arcs, default=0.0)


def bend(a, b):
    """Curvature of the minimum-curvature arc between two stations, deg/m."""
    i1, i2, turn = math.radians(a[1]), math.radians(b[1]), math.radians(b[2] - a[2])
    # The haversine form keeps small angles exact.
    h = math.sin((i2 - i1) / 2) ** 2 + math.sin(i1) * math.sin(i2) * math.sin(turn / 2) ** 2
    return math.degrees(2 * math.asin(min(1.0, math.sqrt(h)))) / (b[0] - a[0])


class Spell:
    """A stretch of a run: bit depths in metres, times in ms, turns of the pipe."""

    __slots__ = ("start", "end", "bit_from", "bit_to", "turns", "hole")

    def __init__(self, start, end, bit_from, bit_to, turns, hole):
        self.start, self.end = start, end
        self.bit_from, self.bit_to = bit_from, bit_to
        self.turns = turns
        self.hole = hole


def spells(segments, start):
    """The spells of a run from the segments of its entry."""
    out = []
    for activity, begin, duration, bit_from, bit_to, milli_turns, *_ in segments:
        makes_hole = ACTIVITIES[activity] in MAKES_HOLE
        out.append(Spell(start + begin, start + begin + duration, bit_from / 1000, bit_to / 1000,
                         milli_turns / 1000, makes_hole))
    return out


class Piece:
    """A stretch of time in which a joint turned (or hole was made) in one bend, casing or not."""

    __slots__ = ("start", "end", "turns", "footage", "bend", "cased", "top", "bottom", "turning")


def pieces(spells_, place, length, path, casing, window=None):
    """What a joint went through: pieces cut wherever bend or casing changes.

    `place` is the distance from the bit to the joint's pin shoulder. `path` and `casing` may be
    None, where nobody knows them.
    """
    out = []
    for spell in spells_:
        start, end = spell.start, spell.end
        if window:
            start, end = max(start, window[0]), min(end, window[1])
        if end < start or (end == start and spell.end > spell.start):
            continue
        # What is stated without hours was drilled all the same: it takes a moment, and nothing turned.
        end = max(end, start + 1) if spell.end == spell.start else end
        whole = max(spell.end - spell.start, 1)
        speed = (spell.bit_to - spell.bit_from) / whole

        def middle(t, spell=spell, speed=speed):
            return spell.bit_from + speed * (t - spell.start) - place - length / 2

        cuts = {start, end}
        for offset, depths in marks(length, path, casing):
            for depth in depths:
                if speed:
                    t = spell.start + (depth - offset + place + length / 2 - spell.bit_from) / speed
                    if start < t < end:
                        cuts.add(t)
        cuts = sorted(cuts)
        for a, b in zip(cuts, cuts[1:]):
            at = middle((a + b) / 2)
            if at <= 0:
                continue
            share = (b - a) / whole
            piece = Piece()
            piece.start, piece.end = a, b
            piece.turning = spell.turns > 0
            piece.turns = spell.turns * share
            piece.footage = max(0.0, spell.bit_to - spell.bit_from) * share if spell.hole else 0.0
            piece.bend = None if path is None else curvature(path, at, length)
            piece.cased = None if casing is None else at < casing
            ends = (middle(a), middle(b))
            piece.top, piece.bottom = max(0.0, min(ends)), max(ends)
            out.append(piece)
    return out


def curvature(path, middle, length):
    """Bend of a joint whose middle is at a depth."""
    if DOGLEG == "middle":
        return path.at(middle)
    return path.sharpest(middle - length / 2, middle + length / 2)


def marks(length, path, casing):
    """Depths at which something changes, with the point of the joint that meets them."""
    yield 0.0, [0.0]
    if casing is not None:
        yield 0.0, [casing]
    if path is not None:
        if DOGLEG == "middle":
            yield 0.0, path.depths
        else:
            yield length / 2, path.depths
            yield -length / 2, path.depths


class Sums:
    """Totals over pieces; None where an input that they need is not known."""

    __slots__ = ("hours", "revolutions", "footage", "max_dogleg", "cased_hours", "open_turns",
                 "top_depth", "bottom_depth", "bands")

    def __init__(self, all_pieces):
        turning = [p for p in all_pieces if p.turning]
        self.hours = sum(p.end - p.start for p in turning) / 1000
        self.revolutions = sum(p.turns for p in turning)
        self.footage = sum(p.footage for p in all_pieces)
        self.max_dogleg = self.cased_hours = self.open_turns = self.bands = None
        if all(p.bend is not None for p in turning):
            self.max_dogleg = max((p.bend for p in turning), default=0.0)
            self.bands = [[0.0, 0.0] for _ in range(BANDS)]
            for p in turning:
                band = min(BANDS - 1, int(p.bend / BAND + 1e-9))
                self.bands[band][0] += p.turns
                self.bands[band][1] += (p.end - p.start) / 1000
        if all(p.cased is not None for p in turning):
            self.cased_hours = sum(p.end - p.start for p in turning if p.cased) / 1000
            self.open_turns = sum(p.turns for p in turning if not p.cased)
        # What differs by less than a micrometre is one depth: sums of floats end anywhere.
        self.top_depth = min((round(p.top, 6) for p in turning), default=None)
        self.bottom_depth = max((round(p.bottom, 6) for p in turning), default=None)

    def above(self, what, dogleg):
        """Turns or hours (s) above a dogleg (deg/m), by the straight line inside a band."""
        if self.bands is None:
            return None if self.hours else 0.0
        column = 0 if what == "revolutions" else 1
        edge = min(BANDS - 1, int(dogleg / BAND + 1e-12))
        inside = dogleg / BAND - edge
        total = sum(band[column] for band in self.bands[edge + 1 :])
        share = 1.0 if edge == BANDS - 1 else 1 - inside
        return total + self.bands[edge][column] * share
