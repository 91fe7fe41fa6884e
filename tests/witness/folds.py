"""What a quantifier or an aggregate says over records that count and records that may count."""

from truth import FALSE, TRUE, UNKNOWN, both, either
from values import INFINITE, UNKNOWN_VALUE, Number


def every(tested, blind):
    """Whether there is a record and all of them fit."""
    if not blind and all(holds == FALSE for x, holds in tested):
        return FALSE
    # Where the witness cannot tell of any of them, they may all fail.
    may_all_fail = not blind and all(holds & FALSE for x, holds in tested)
    there = UNKNOWN if blind else FALSE
    fits = UNKNOWN if blind else TRUE
    for x, holds in tested:
        there = either(there, TRUE if x.sure else UNKNOWN)
        fits = both(fits, holds if x.sure else either(holds, UNKNOWN))
    return both(there, fits) | (FALSE if may_all_fail else 0)


def folded(how, sure, maybe, blind, lowest):
    """Bounds of a sum, largest, smallest or mean over values that count and that may count."""
    if how == "sum":
        low = sum(v.low for v in sure) + sum(min(0.0, v.low) for v in maybe)
        high = sum(v.high for v in sure) + sum(max(0.0, v.high) for v in maybe)
        if blind:
            low, high = (low if lowest == 0 else -INFINITE), INFINITE
        return Number(low, high)
    if not sure:
        return UNKNOWN_VALUE
    everything = sure + maybe
    if how == "max":
        return Number(max(v.low for v in sure),
                      INFINITE if blind else max(v.high for v in everything))
    if how == "min":
        return Number(-INFINITE if blind else min(v.low for v in everything),
                      min(v.high for v in sure))
    if blind:
        return Number(-INFINITE, INFINITE)
    return Number(mean([v.low for v in sure], sorted(v.low for v in maybe), lambda a, b: a < b),
                  mean([v.high for v in sure], sorted((v.high for v in maybe), reverse=True),
                       lambda a, b: a > b))


def percentile(n, sure, maybe):
    """Bounds of the value that so many of a hundred do not exceed, by nearest rank."""
    if not sure:
        # Of none there is no such value.
        return UNKNOWN_VALUE

    def utmost(of, up):
        counted, open_values = [of(v) for v in sure], sorted(map(of, maybe), reverse=up)
        ranked = []
        for k in range(len(open_values) + 1):
            values = sorted(counted + open_values[:k])
            ranked.append(values[max(0, -(-len(values) * n // 100) - 1)])
        return max(ranked) if up else min(ranked)

    return Number(utmost(lambda v: v.low, False), utmost(lambda v: v.high, True))


def mean(counted, open_values, better):
    """The most extreme mean that leaving out some open values can give."""
    total, count = sum(counted), len(counted)
    for v in open_values:
        if better(v, total / count):
            total, count = total + v, count + 1
    return total / count
