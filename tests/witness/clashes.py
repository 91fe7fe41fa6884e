"""Facts that exclude each other: a joint in two runs, in two places, out while it is here."""

from records import ENTRY_RANK
from words import name


class Clashes:
    """Finds the clashes among the entries of a history."""

    def __init__(self, history):
        self.history = history

    def found(self):
        """Entries that exclude each other, by joint."""
        out = {}
        in_runs, moves, hires = {}, {}, {}
        for e in self.history.of_kind("run"):
            start = self.history.clock.span(e.body["start"])[0]
            tallies = [e.body["tally"]] + [s["tally"] for s in e.body.get("swaps", [])]
            for joint in self._in(tallies):
                in_runs.setdefault(joint.id, []).append((start, e.end, e))
        for e in self.history.of_kind("move"):
            for joint in self.history.joints_of(e.body):
                moves.setdefault(joint.id, []).append(e)
        for e in self.history.of_kind("hire_out", "hire_in"):
            for joint in self.history.joints_of(e.body):
                hires.setdefault(joint.id, []).append(e)
        for joint, runs in in_runs.items():
            for i, (start, end, e) in enumerate(runs):
                for start2, end2, e2 in runs[i + 1 :]:
                    if start < end2 and start2 < end:
                        out.setdefault(joint, set()).update((e.name, e2.name))
        for joint, all_moves in moves.items():
            for i, e in enumerate(all_moves):
                for e2 in all_moves[i + 1 :]:
                    if e.start == e2.start and self._say_otherwise(e.body, e2.body):
                        out.setdefault(joint, set()).update((e.name, e2.name))
        for joint, runs in in_runs.items():
            for start, end, run in runs:
                for e in moves.get(joint, []) + hires.get(joint, []):
                    # What is handled, whatever is said of it then, is not in the hole.
                    if start < e.start < end and e.end <= end:
                        out.setdefault(joint, set()).update((e.name, run.name))
        for joint, entries in self._bad_hires().items():
            out.setdefault(joint, set()).update(entries)
        return out

    @staticmethod
    def _say_otherwise(one, other):
        """Whether two moves name different places or different strings."""
        said = ((one.get(k), other.get(k)) for k in ("location", "string"))
        return any(a and b and name(a) != name(b) for a, b in said)

    def _bad_hires(self):
        """Hires of joints that are on hire already, or set aside, and joints that were put in
        stock or into a shop while on hire."""
        out, open_hires, aside = {}, {}, {}
        facts = self.history.of_kind("hire_out", "hire_in", "decision", "move")
        for e in sorted(facts, key=lambda e: (e.start, ENTRY_RANK[e.kind], e.order)):
            for joint in self.history.joints_of(e.body):
                held = open_hires.setdefault(joint.id, {})
                if e.kind == "decision":
                    if e.body["ruling"] in ("quarantine", "retire"):
                        aside[joint.id] = e.name
                    elif e.body["ruling"] == "release":
                        aside.pop(joint.id, None)
                    continue
                if e.kind == "move":
                    if e.body.get("status") == "in_stock" and joint.id in aside:
                        out.setdefault(joint.id, set()).update([e.name, aside[joint.id]])
                    if held and e.body.get("status") in ("in_stock", "in_repair"):
                        out.setdefault(joint.id, set()).update([e.name, *held.values()])
                    continue
                if e.kind == "hire_out" and joint.id in aside:
                    out.setdefault(joint.id, set()).update([e.name, aside[joint.id]])
                if e.kind == "hire_in":
                    if held.pop(name(e.body["hire"]), None) is None:
                        out.setdefault(joint.id, set()).add(e.name)
                    continue
                if held:
                    out.setdefault(joint.id, set()).update([e.name, *held.values()])
                held[name(e.body["hire"])] = e.name
        return out

    def _in(self, tallies):
        lines = [line for tally in tallies for line in tally if line.get("j")]
        found = [self.history.joint(line["j"]) for line in lines]
        return list(dict.fromkeys(j for j in found if j))
