"""Filters asked of publications: the program's own answers against those that other engines give to
its statements (`find --sql`). Books and filters are made up from a seed by `tests/witness`; each
answer must be the same joints, and the same undecided.
"""

import argparse
import json
import os
import random
import subprocess
import sys
import tempfile
import time
from collections import Counter

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(HERE, "..", "witness"))

import books  # noqa: E402
import drive  # noqa: E402
import engines  # noqa: E402
import stand_in  # noqa: E402
from filters import spelled  # noqa: E402


class Site:
    """A book of the fleet, under the name by which the publication knows it."""

    def __init__(self, binary, name, book, env):
        self.name, self.book = name, book
        self.case = drive.Case(binary, book, env)

    def ask(self, count, seed, sources):
        """Filters, with what the program says of each and its statements."""
        way = random.Random(seed)
        texts = [spelled(str(tree), way) for tree in self.case.made(count, seed)]
        program = self.case.program
        told = {d: program.find(texts, "--sql", d, "--from", of) for d, of in sources.items()}
        for n, (text, answer) in enumerate(zip(texts, program.ask(texts))):
            if not answer.error:
                yield Asked(self.name, text, answer, {d: told[d][n] for d in sources})


class Asked:
    """A filter, the program's answer, and the statement for each engine."""

    def __init__(self, site, text, answer, statements):
        self.site, self.text, self.statements = site, text, statements
        self.wanted = (sorted(answer.matches), sorted(answer.open))


def sites(options, folder):
    """The demo's book and the fleet, each with the folder of its publication."""
    demo = os.path.join(folder, "demo")
    env = {**os.environ, "PIPELORE_NOW": books.NOW}
    subprocess.run([options.binary, "demo", demo], check=True, capture_output=True, env=env)
    book = os.path.join(demo, options.demo_book)
    alone = os.path.join(folder, "state-demo")
    stand_in.write(book, alone, "demo")
    yield Site(options.binary, "demo", book, env), alone
    fleet = os.path.join(folder, "state-fleet")
    made = []
    for seed in range(options.seed, options.seed + options.books):
        book, env = books.make(options.binary, os.path.join(folder, f"book-{seed}"), seed)
        made.append(Site(options.binary, f"book-{seed}", book, env))
        stand_in.write(book, fleet, made[-1].name)
    for site in made:
        yield site, fleet


def compare(asked, dialect, engine):
    """Asks one engine: how many were answered, refused for which reason, and what differs."""
    refused, wrong, answered = Counter(), [], 0
    for one in asked:
        told = one.statements[dialect]
        if "error" in told:
            refused[told["error"]["message"].split(": ", 1)[-1]] += 1
            continue
        answered += 1
        try:
            rows = engine.rows(told["sql"])
        except engine.errors as error:
            wrong.append((one, f"refused by the engine: {str(error)[:600]}"))
            continue
        own = [row for row in rows if row[0] == one.site]
        got = (sorted(r[1] for r in own if r[3]), sorted(r[1] for r in own if not r[3]))
        if got != one.wanted:
            names = ("matching", "undecided")
            wrong.append((one, "; ".join(
                f"{name}: {sorted(set(g) ^ set(w))}" for name, g, w in zip(names, got, one.wanted))))
    return answered, refused, wrong


def arguments():
    """What the command line says."""
    a = argparse.ArgumentParser(description=__doc__)
    a.add_argument("binary", help="the program to ask")
    a.add_argument("--books", type=int, default=3, help="how many books the fleet has")
    a.add_argument("--filters", type=int, default=1000, help="how many filters to ask in all")
    a.add_argument("--spark", type=int, default=60, help="how many of them to ask of Spark")
    a.add_argument("--longest", type=int, default=9000, help="longest statement for Spark")
    a.add_argument("--seed", type=int, default=1, help="seed of the first book")
    a.add_argument("--demo-book", default="demo.pipelore", help="name of the demo's book")
    a.add_argument("--folder", help="keep books and publications here")
    return a.parse_args()


def main():
    """Asks all."""
    options = arguments()
    with tempfile.TemporaryDirectory() as scratch:
        folder = os.path.abspath(options.folder or scratch)
        begun, asked = time.monotonic(), []
        dialects = ["duckdb", "spark"] if options.spark else ["duckdb"]
        each, states = -(-options.filters // (options.books + 1)), {}
        for site, state in sites(options, folder):
            # DuckDB reads the folder itself, Spark views on it.
            prefix = os.path.basename(state).replace("-", "_") + "_"
            states[prefix] = state
            sources = {"duckdb": state, "spark": prefix}
            asked += site.ask(each, options.seed, {d: sources[d] for d in dialects})
        print(f"{len(asked)} filters asked of the book in {time.monotonic() - begun:.1f} s")
        wrong = 0
        for dialect in dialects:
            some = asked if dialect == "duckdb" else of_spark(asked, options)
            wrong += told(dialect, some, states)
    sys.exit(1 if wrong else 0)


def of_spark(asked, options):
    """Some of the filters: it reads a long statement for minutes, so those are left out."""
    short = [a for a in asked if len(a.statements["spark"].get("sql", "")) < options.longest]
    print(f"spark: {len(asked) - len(short)} of {len(asked)} filters have a statement longer than "
          f"{options.longest} signs and are not asked")
    random.Random(options.seed).shuffle(short)
    return short[:options.spark]


def told(dialect, asked, states):
    """Asks an engine and says how it went: how many differ."""
    begun = time.monotonic()
    with engines.ENGINES[dialect]() as engine:
        engine.views(states)
        answered, refused, wrong = compare(asked, dialect, engine)
    share = 100 * sum(refused.values()) / max(1, len(asked))
    print(f"{dialect}: {answered} answered alike or not, {len(wrong)} differ; {share:.1f} % refused "
          f"by name; {time.monotonic() - begun:.1f} s")
    for why, many in refused.most_common():
        print(f"  {many} refused: {why}")
    for one, how in wrong[:20]:
        print(f"  differs: {json.dumps(one.text)} on {one.site}: {how}")
    sys.stdout.flush()
    return len(wrong)


if __name__ == "__main__":
    main()
