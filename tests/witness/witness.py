#!/usr/bin/env python3
"""The second witness: an evaluator of filters that shares no code with the program.

It makes up small yards from a seed and enters them through files and commands, reads nothing of
them but the entries, makes up filters, and holds its answers against those of the binary:

    python3 tests/witness/witness.py target/release/pipelore --books 3 --filters 1000

asks 1,000 filters, a third of them of each book. `--ask FILTER` asks one filter of each book in
place of made-up ones; `--book FILE` takes a book that stands already. Exit status 1 when the two
differ anywhere.
"""

import argparse
import os
import sys
import tempfile
import time

import books
import drive
import facts
import syntax
from entries import to_ms
from datetime import datetime


def arguments():
    """What the command line says."""
    a = argparse.ArgumentParser(description=__doc__,
                                formatter_class=argparse.RawDescriptionHelpFormatter)
    a.add_argument("binary", nargs="?", default=os.environ.get("PIPELORE_BIN"),
                   help="the program to ask [default: $PIPELORE_BIN]")
    a.add_argument("--books", type=int, default=3, help="how many books to make up")
    a.add_argument("--filters", type=int, default=1000, help="how many filters to ask in all")
    a.add_argument("--seed", type=int, default=1, help="seed of the first book")
    a.add_argument("--book", help="ask this book in place of made-up ones")
    a.add_argument("--now", default=books.NOW, help="the present time of questions to --book")
    a.add_argument("--folder", help="keep the books here [default: a folder that is removed]")
    a.add_argument("--ask", action="append", metavar="FILTER", help="ask this filter")
    a.add_argument("--facts", action="store_true", help="hold fields and records together first")
    a.add_argument("--without", default="", metavar="KINDS",
                   help="fields and kinds of question to leave out, with commas between")
    a.add_argument("--never", choices=["entry", "unknown"], default="entry",
                   help="a count or quantifier since a thing that never happened, of a joint that "
                        "entered new: counts from its entry, or is unknown")
    return a.parse_args()


def main():
    """Runs the witness; says how many filters differ."""
    options = arguments()
    if not options.binary:
        sys.exit("name the binary to ask, or set PIPELORE_BIN")
    options.binary = os.path.abspath(options.binary)
    with tempfile.TemporaryDirectory() as scratch:
        folder = os.path.abspath(options.folder or scratch)
        total = sum(one_book(options, folder, n) for n in range(books_wanted(options)))
    sys.exit(1 if total else 0)


def books_wanted(options):
    """How many books are asked."""
    return 1 if options.book else options.books


def one_book(options, folder, number):
    """Asks one book: how many filters differ."""
    seed = options.seed + number
    begin = time.monotonic()
    if options.book:
        book, env, where = options.book, dict(os.environ), options.book
    else:
        where = os.path.join(folder, f"book-{seed}")
        book, yard = books.make(options.binary, where, seed)
        env = yard.env
    if options.book:
        env["PIPELORE_NOW"] = options.now
    made = time.monotonic() - begin
    now = to_ms(datetime.fromisoformat(env["PIPELORE_NOW"].replace("Z", "+00:00")))
    case = drive.Case(options.binary, book, env, now, options.without.split(","), options.never)
    if options.facts:
        for line in facts.compare(case.history, case.program):
            print(f"  fact: {line}")
    found = asked(options, case, seed)
    took = time.monotonic() - begin - made
    n = case.asked
    print(
        f"book of seed {seed}: {n['filters']} filters of {len(case.history.joints)} joints, "
        f"{n['true']} true, {n['false']} false, {n['undecided']} undecided, "
        f"{n['open']} left open, {n['refused']} refused; "
        f"{len(found)} differ; made in {made:.1f} s, asked in {took:.1f} s"
    )
    for error, text in case.refused.items():
        print(f"  refused: {text}\n    {error}")
    for d in found:
        print(
            f"  differs: {d.small}\n"
            f"    joint {d.joint}: witness {drive.NAMES.get(d.mine, d.mine)}, "
            f"program {drive.NAMES.get(d.theirs, d.theirs)}; in {where}; as asked: {d.text}"
        )
    sys.stdout.flush()
    return len(found) + n["refused"]


def asked(options, case, seed):
    """The differences that the wanted filters show."""
    if not options.ask:
        return list(case.ask(options.filters // books_wanted(options), seed))
    found = []
    for text in options.ask:
        tree = syntax.parse(text, case.meaning.rules)
        found += case.compared(tree, case.answer(tree))
    return found


if __name__ == "__main__":
    main()
