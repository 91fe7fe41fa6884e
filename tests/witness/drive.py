"""Asks a book filters, and the witness too, and says where they differ."""

import random
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import entries
import history as lives
import meaning
import program
import syntax as s
from filters import Maker
from truth import FALSE, TRUE, UNKNOWN

NAMES = {TRUE: "true", FALSE: "false", UNKNOWN: "undecided"}


class Disagreement:
    """One filter on which witness and program differ."""

    def __init__(self, text, joint, mine, theirs, small=None):
        self.text = text
        self.joint = joint
        self.mine = mine
        self.theirs = theirs
        self.small = small


class Case:
    """One book, with the witness's history of it."""

    def __init__(self, binary, book, env, now, without=(), never_counts="entry"):
        self.program = program.Program(binary, book, env)
        self.history = lives.History(entries.read(binary, book, env), now)
        program.judge(self.history, self.program)
        self.meaning = meaning.Meaning(
            self.history, now, self.program.rules(), self.program, never_counts
        )
        self.without = without
        self.asked = Counter()
        self.refused = {}

    def outcomes(self, tree):
        """The witness's answer: sets of outcomes by joint."""
        return {j.id: self.meaning.decide(tree, j) for j in self.history.joints.values()}

    def answer(self, tree):
        """The program's answer: an outcome by joint, or the error."""
        text = str(tree)
        found = self.program.find(text)
        if found.error:
            return found
        undecided = self.program.undecided(text) if found.undecided else frozenset()
        found.open = undecided
        return found

    def outcome(self, answer, joint):
        """The program's outcome for a joint."""
        if joint in answer.matches:
            return TRUE
        return UNKNOWN if joint in answer.open else FALSE

    def differs(self, tree, joint=None):
        """The first joint on which the two differ (or a given one): joint, mine, theirs."""
        answer = self.answer(tree)
        if answer.error:
            return None
        for identity, mine in self.outcomes(tree).items():
            theirs = self.outcome(answer, identity)
            if not mine & theirs and joint in (None, identity):
                return identity, mine, theirs
        return None

    def ask(self, count, seed):
        """Asks many filters; yields where the two differ."""
        maker = Maker(self.history, self.meaning, random.Random(seed), self.without)
        trees = [maker.filter() for _ in range(count)]
        with ThreadPoolExecutor(2) as pool:
            for tree, answer in zip(trees, pool.map(self.answer, trees)):
                yield from self.compared(tree, answer)

    def compared(self, tree, answer):
        """Holds one answer against the witness's."""
        self.asked["filters"] += 1
        try:
            self.meaning.check(tree)
        except meaning.StrangeWord as strange:
            if not answer.error:
                self.asked["filters that differ"] += 1
                yield Disagreement(tree, "none", f"an error: {strange}", "no error", tree)
            return
        if answer.error:
            self.asked["refused"] += 1
            self.refused.setdefault(answer.error[:160], str(tree))
            return
        worst = None
        for joint, mine in self.outcomes(tree).items():
            theirs = self.outcome(answer, joint)
            self.asked["answers"] += 1
            self.asked[NAMES.get(mine, "open")] += 1
            if not mine & theirs:
                self.asked["joints that differ"] += 1
                worst = worst or (joint, mine, theirs)
        if worst:
            self.asked["filters that differ"] += 1
            yield Disagreement(tree, *worst, self.smallest(tree, worst[0]))

    def smallest(self, tree, joint):
        """A smaller filter on which the two still differ about a joint."""
        budget = 60
        changed = True
        while changed and budget > 0:
            changed = False
            for smaller in smaller_trees(tree):
                budget -= 1
                try:
                    still = self.differs(smaller, joint)
                except Exception:  # a part that stands for no filter of its own
                    continue
                if still:
                    tree, changed = smaller, True
                    break
                if budget <= 0:
                    break
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
