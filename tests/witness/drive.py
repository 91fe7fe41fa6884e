"""Asks a book filters, and the witness too, and says where they differ."""

import random
from collections import Counter, namedtuple

import entries
import history as lives
import meaning
import program
import syntax as s
from filters import Maker, spelled
from truth import FALSE, TRUE, UNKNOWN

NAMES = {TRUE: "true", FALSE: "false", UNKNOWN: "undecided"}


# A filter on which witness and program differ: as asked, on which joint, what each said, and the
# smallest part of it that shows it.
Disagreement = namedtuple("Disagreement", "text joint mine theirs small")


class Case:
    """One book, with the witness's history of it."""

    def __init__(self, binary, book, env):
        self.program = program.Program(binary, book, env)
        self.history = lives.History(*entries.read(binary, book, env))
        program.judge(self.history, self.program)
        self.meaning = meaning.Meaning(self.history, self.program)
        self.asked = Counter()

    def made(self, count, seed):
        """Filters of a seed."""
        maker = Maker(self.history, self.meaning, random.Random(seed))
        return [maker.filter() for _ in range(count)]

    def compare(self, trees):
        """Where the two differ on filters."""
        way = random.Random(len(trees))
        asked = [spelled(str(tree), way) for tree in trees]
        for tree, answer in zip(trees, self.program.ask(asked)):
            self.asked["filters"] += 1
            try:
                self.meaning.check(tree)
            except meaning.StrangeWord as strange:
                if not answer.error:
                    yield Disagreement(tree, "none", f"an error: {strange}", "no error", tree)
                continue
            if answer.error:
                yield Disagreement(tree, "none", "no error", answer.error, tree)
                continue
            apart = self.apart(tree, answer)
            if apart:
                yield Disagreement(tree, *apart, self.smallest(tree, apart[0]))

    def apart(self, tree, answer, only=None):
        """The first joint (or a given one) on which the two differ: joint, mine, theirs."""
        found = None
        for joint in self.history.joints.values():
            if only not in (None, joint.id):
                continue
            mine = self.meaning.decide(tree, joint)
            theirs = TRUE if joint.id in answer.matches else \
                UNKNOWN if joint.id in answer.open else FALSE
            self.asked[NAMES.get(mine, "open")] += 1
            if not mine & theirs:
                found = found or (joint.id, mine, theirs)
        return found

    def smallest(self, tree, joint):
        """A smaller filter on which the two still differ about a joint."""
        while True:
            # Some parts are no filter by themselves: those the program refuses.
            smaller = list(smaller_trees(tree))
            for small, answer in zip(smaller, self.program.ask([str(s) for s in smaller])):
                if not answer.error and self.apart(small, answer, joint):
                    tree = small
                    break
            else:
                return tree


def smaller_trees(node):
    """Trees that say less than a tree: without one of its parts."""
    if isinstance(node, (s.And, s.Or)):
        for i, item in enumerate(node.items):
            rest = node.items[:i] + node.items[i + 1 :]
            yield rest[0] if len(rest) == 1 else type(node)(rest)
            for small in smaller_trees(item):
                yield type(node)(node.items[:i] + [small] + node.items[i + 1 :])
    elif isinstance(node, s.Not):
        yield node.item
        for small in smaller_trees(node.item):
            yield s.Not(small)
    else:
        yield from smaller_parts(node)


def smaller_parts(node):
    """A node without one condition or window somewhere in it."""
    for part in node.parts:
        value = getattr(node, part)
        if part == "windows" and value:
            for i in range(len(value)):
                yield replaced(node, part, value[:i] + value[i + 1 :])
        if part == "condition" and value is not None:
            yield replaced(node, part, None)
            for small in smaller_trees(value):
                yield replaced(node, part, small)
        elif isinstance(value, s.Node):
            for small in smaller_parts(value):
                yield replaced(node, part, small)
        elif isinstance(value, list):
            for i, item in enumerate(value):
                if isinstance(item, s.Node):
                    for small in smaller_parts(item):
                        yield replaced(node, part, value[:i] + [small] + value[i + 1 :])


def replaced(node, part, value):
    """A node with another part."""
    return type(node)(*(value if p == part else getattr(node, p) for p in node.parts))
