"""Values that a filter compares: numbers within bounds, words, names, dates, choices of them."""

import re

from records import NONE
from truth import ANY, FALSE, TRUE, UNKNOWN, agreed, of
from words import closed, fold, name

INFINITE = float("inf")
# Computed figures may differ in their last digits; closer than this nothing is said.
CLOSE = 2e-6


class Number:
    """A number that lies within bounds.

    `computed`: its last digits may differ from the program's. `soft`: the bounds are the witness's
    own and wider than what the program may know. `half`: of a literal, half of its last digit.
    """

    __slots__ = ("low", "high", "computed", "soft", "half")

    def __init__(self, low, high=None, computed=False, soft=False, half=0.0):
        self.half = half
        self.low = low
        self.high = low if high is None else high
        self.computed = computed
        self.soft = soft

    def __repr__(self):
        return f"[{self.low:g}, {self.high:g}]{'~' if self.soft else ''}"

    def __eq__(self, other):
        return isinstance(other, Number) and (self.low, self.high, self.soft) == (
            other.low, other.high, other.soft)

    __hash__ = None


class Word:
    """A word of a vocabulary."""

    __slots__ = ("word", "vocabulary")

    def __init__(self, word, vocabulary):
        self.word = word
        self.vocabulary = vocabulary

    def __repr__(self):
        return self.word

    def __eq__(self, other):
        return isinstance(other, Word) and fold(self.word) == fold(other.word)

    __hash__ = None


class Text:
    """A name."""

    __slots__ = ("text",)

    def __init__(self, text):
        self.text = text

    def __repr__(self):
        return repr(self.text)

    def __eq__(self, other):
        return isinstance(other, Text) and name(self.text) == name(other.text)

    __hash__ = None


class Several(Text):
    """A text of several words or names: it is each of them, and all of them together."""

    __slots__ = ()

    def items(self):
        """The words, as they compare."""
        return {name(part.replace("_", " ")) for part in re.split("[,:]", self.text)
                if part.strip()}


class Words:
    """A set of words."""

    __slots__ = ("words",)

    def __init__(self, words):
        self.words = frozenset(words)

    def __repr__(self):
        return "{" + ", ".join(sorted(self.words)) + "}"

    def __eq__(self, other):
        return isinstance(other, Words) and self.words == other.words

    __hash__ = None


class Date:
    """A stretch of time that one moment as written covers."""

    __slots__ = ("start", "end")

    def __init__(self, start, end):
        self.start = start
        self.end = end

    def __repr__(self):
        return f"@{self.start}"

    def __eq__(self, other):
        return isinstance(other, Date) and (self.start, self.end) == (other.start, other.end)

    __hash__ = None


class _Unknown:
    """A value that nobody knows."""

    def __repr__(self):
        return "unknown"


class _Soft:
    """A value that the witness does not know and the program may."""

    def __repr__(self):
        return "?"


UNKNOWN_VALUE = _Unknown()
SOFT_VALUE = _Soft()


class Choice:
    """One of several values, by which of several possible lives is the real one."""

    __slots__ = ("values",)

    def __init__(self, values):
        self.values = values

    def __repr__(self):
        return " | ".join(map(repr, self.values))


def choice(values):
    """One value, or the choice of several different ones."""
    kept = []
    for v in values:
        if not any(v is k or v == k for k in kept):
            kept.append(v)
    return kept[0] if len(kept) == 1 else Choice(kept)


def alternatives(value):
    """The values that a value may be."""
    return value.values if isinstance(value, Choice) else [value]


def compare(left, op, right):
    """Set of outcomes of a comparison."""
    if isinstance(left, Choice) or isinstance(right, Choice):
        return agreed(
            compare(a, op, b) for a in alternatives(left) for b in alternatives(right)
        )
    if left is SOFT_VALUE or right is SOFT_VALUE:
        return ANY
    if left is NONE or right is NONE:
        return TRUE if op == "!=" else FALSE
    if left is UNKNOWN_VALUE or right is UNKNOWN_VALUE:
        return UNKNOWN
    if isinstance(left, Number):
        return compare_numbers(left, op, right)
    if isinstance(left, Date):
        return compare_dates(left, op, right)
    if isinstance(left, bool):
        return of((left == right) == (op == "="))
    if isinstance(left, Words):
        return of((fold(right.word if isinstance(right, Word) else right.text) in left.words)
                  == (op == "="))
    same = left == right
    if isinstance(left, Several):
        asked = Several(right.word if isinstance(right, Word) else right.text).items()
        stand = left.items()
        # A broad word means all below it.
        same = asked == stand or len(asked) == 1 and any(
            f" {item}".endswith(f" {word}") for word in asked for item in stand)
    if isinstance(left, Word) and isinstance(right, Text):
        read = closed(left.vocabulary, right.text) if left.vocabulary in CLOSED else None
        same = fold(left.word) == fold(read or right.text)
    if isinstance(left, Word) and left.vocabulary in ("finding", "criterion"):
        asked = right.word if isinstance(right, Word) else right.text
        same = same or fold(left.word).endswith("_" + fold(asked))
    return of(same == (op == "="))


CLOSED = {"component", "grade", "range", "class", "status", "end", "place", "work", "event",
          "failure", "environment", "run_grade", "verdict", "ruling", "disposition"}


def near(a, b):
    """Whether two bounds are too close to tell apart."""
    if a == b or INFINITE in (abs(a), abs(b)):
        return False
    return abs(a - b) <= CLOSE * max(abs(a), abs(b)) + 1e-12


def compare_numbers(a, op, b):
    """Set of outcomes of a comparison of bounds: decided only where all of them agree."""
    computed = a.computed or b.computed
    # A number that means just itself is compared as it is stored.
    unsure = computed or op in ("=", "!=") and b.half == 0
    low, high = b.low, b.high
    if op in ("=", "!="):
        # A literal is equal to what would be written like it.
        low, high = low - b.half, high + b.half
    pairs = ((a.low, low), (a.low, high), (a.high, low), (a.high, high))
    if unsure and any(near(x, y) or (computed and x == y and x not in (0, INFINITE))
                      for x, y in pairs):
        return ANY
    if op in (">", ">="):
        a, b, op = b, a, {">": "<", ">=": "<="}[op]
    if op == "<":
        found = TRUE if a.high < b.low else FALSE if a.low >= b.high else UNKNOWN
    elif op == "<=":
        found = TRUE if a.high <= b.low else FALSE if a.low > b.high else UNKNOWN
    else:
        apart = a.high < low or high < a.low
        one = b.low == b.high and low <= a.low and a.high <= high
        found = FALSE if apart else TRUE if one else UNKNOWN
        if op == "!=":
            found = {TRUE: FALSE, FALSE: TRUE, UNKNOWN: UNKNOWN}[found]
    return ANY if found == UNKNOWN and (a.soft or b.soft) else found


def compare_dates(a, op, b):
    """A day counts whole: a moment is equal to the day that it lies in."""
    if op in ("=", "!="):
        return of((b.start <= a.start < max(b.end, b.start + 1)) == (op == "="))
    return of({
        "<": a.start < b.start,
        "<=": a.start < max(b.end, b.start + 1),
        ">": a.start >= max(b.end, b.start + 1),
        ">=": a.start >= b.start,
    }[op])


def is_unknown(value):
    """Whether a value is not known exactly: set of outcomes."""
    if isinstance(value, Choice):
        # Of values that the witness does not know exactly, two may be one.
        told = [v for v in value.values if is_unknown(v) == FALSE]
        unknown = len(told) > 1 or any(is_unknown(v) == TRUE for v in value.values)
        return TRUE if unknown else ANY
    if value is UNKNOWN_VALUE:
        return TRUE
    if value is SOFT_VALUE:
        return ANY
    if isinstance(value, Number):
        return ANY if value.soft else of(value.low != value.high)
    return FALSE


def arithmetic(op, left, right):
    """A sum, difference, product or quotient of bounds."""
    if isinstance(left, Choice) or isinstance(right, Choice):
        return choice([
            arithmetic(op, a, b) for a in alternatives(left) for b in alternatives(right)
        ])
    if SOFT_VALUE in (left, right):
        return SOFT_VALUE
    if isinstance(left, Date) and isinstance(right, Number):
        shift = right.low * 1000 * (1 if op == "+" else -1)
        return Date(left.start + shift, left.end + shift)
    if not (isinstance(left, Number) and isinstance(right, Number)):
        return UNKNOWN_VALUE
    soft = left.soft or right.soft
    if op == "+":
        return Number(left.low + right.low, left.high + right.high, True, soft)
    if op == "-":
        return Number(left.low - right.high, left.high - right.low, True, soft)
    if op == "/":
        if right.low <= 0 <= right.high:
            return SOFT_VALUE if soft else UNKNOWN_VALUE
        right = Number(1 / right.high, 1 / right.low)
    ends = [times(x, y) for x in (left.low, left.high) for y in (right.low, right.high)]
    return Number(min(ends), max(ends), True, soft)


def times(x, y):
    """A product in which nothing times infinity is nothing."""
    return 0.0 if 0 in (x, y) else x * y
