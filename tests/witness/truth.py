"""Truth of three values, and sets of outcomes.

An outcome is true, false or unknown (Kleene). Where the witness cannot tell exactly, because two
figures are too close or a figure is not its own to compute, it keeps every outcome that may be: a
set, as the sum of TRUE, FALSE and UNKNOWN.
"""

TRUE, FALSE, UNKNOWN = 1, 2, 4
ANY = TRUE | FALSE | UNKNOWN
OUTCOMES = (TRUE, FALSE, UNKNOWN)


def _and(a, b):
    if FALSE in (a, b):
        return FALSE
    return TRUE if a == b == TRUE else UNKNOWN


def _same(a, b):
    return a if a == b else UNKNOWN


def _table(rule):
    """A rule for outcomes as a table for sets of them."""
    table = []
    for x in range(8):
        row = []
        for y in range(8):
            found = 0
            for a in OUTCOMES:
                for b in OUTCOMES:
                    if a & x and b & y:
                        found |= rule(a, b)
            row.append(found)
        table.append(row)
    return table


BOTH = _table(_and)
# What two possible worlds say together: it is decided only where they agree.
AGREED = _table(_same)
NEGATED = [
    (TRUE if x & FALSE else 0) | (FALSE if x & TRUE else 0) | (x & UNKNOWN) for x in range(8)
]


def negate(x):
    """Not."""
    return NEGATED[x]


def both(x, y):
    """And."""
    return BOTH[x][y]


def either(x, y):
    """Or."""
    return NEGATED[BOTH[NEGATED[x]][NEGATED[y]]]


def agreed(outcomes):
    """What all possible worlds say together."""
    found = None
    for x in outcomes:
        found = x if found is None else AGREED[found][x]
    return UNKNOWN if found is None else found


def of(flag):
    """A known truth."""
    return TRUE if flag else FALSE
