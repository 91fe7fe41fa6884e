"""Records of a joint's life, and what is known to be nothing."""


class _None:
    """The value of a field of which it is known that it has none."""

    def __repr__(self):
        return "NONE"


NONE = _None()

# Facts of one instant stand in this order: what takes a joint out of service, what was seen,
# decided, mended, made up, where it went, and the run.
RANK = {
    "event": 6, "failure": 6, "inspection": 7, "finding": 7, "decision": 8, "repair": 9,
    "makeup": 10, "move": 12, "hire": 13, "run": 14,
}
KINDS = list(RANK)
# Of the entries of one instant that say where a joint is, it first comes home.
ENTRY_RANK = {**RANK, "hire_in": 11, "hire_out": RANK["hire"]}


class Record:
    """A record of a joint's life. `at` is its place in time, for a run its end."""

    __slots__ = ("kind", "at", "begin", "order", "n", "fields", "sure", "entry", "extra")

    def __init__(self, kind, entry, at, fields, n=0, begin=None, sure=True):
        self.kind = kind
        self.entry = entry
        self.at = at
        self.begin = at if begin is None else begin
        self.order = entry.order
        self.n = n
        self.fields = fields
        # False while an unsettled conflict leaves open whether it happened.
        self.sure = sure
        self.extra = None

    @property
    def key(self):
        """Its place among the records of the joint."""
        return (self.at, RANK[self.kind], self.order, self.n)
