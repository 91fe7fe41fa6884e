#!/usr/bin/env python3
"""The second witness: an evaluator of filters that shares no code with the program.

It makes up small yards from a seed, enters them through files and commands, reads nothing of them
but the entries that `pipelore entries --json` lists, makes up filters, and holds its answers
against those of the binary:

    python3 tests/witness/witness.py target/debug/pipelore --books 3 --filters 1000

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


def arguments():
    """What the command line says."""
    a = argparse.ArgumentParser(description=__doc__,
                                formatter_class=argparse.RawDescriptionHelpFormatter)
    a.add_argument("binary", type=os.path.abspath, help="the program to ask")
    a.add_argument("--books", type=int, default=3, help="how many books to make up")
    a.add_argument("--filters", type=int, default=1000, help="how many filters to ask in all")
    a.add_argument("--seed", type=int, default=1, help="seed of the first book")
    a.add_argument("--book", help="ask this book in place of made-up ones")
    a.add_argument("--folder", help="keep the books here [default: a folder that is removed]")
    a.add_argument("--ask", action="append", metavar="FILTER", help="ask this filter")
    a.add_argument("--facts", action="store_true", help="hold fields and records together first")
    return a.parse_args()


def main():
    """Runs the witness."""
    options = arguments()
    with tempfile.TemporaryDirectory() as scratch:
        folder = os.path.abspath(options.folder or scratch)
        books_wanted = 1 if options.book else options.books
        each = -(-options.filters // books_wanted)
        seeds = range(options.seed, options.seed + books_wanted)
        wrong = [seed for seed in seeds if one_book(options, folder, seed, each)]
        if wrong and not (options.book or options.folder):
            # The folder is about to be removed.
            show_files(os.path.join(folder, f"book-{wrong[0]}"))
    sys.exit(1 if wrong else 0)


def one_book(options, folder, seed, filters):
    """Asks one book: whether something differs."""
    begin = time.monotonic()
    where = options.book or os.path.join(folder, f"book-{seed}")
    if options.book:
        book, env = options.book, {"PIPELORE_NOW": books.NOW, **os.environ}
    else:
        book, env = books.make(options.binary, where, seed)
    made = time.monotonic()
    case = drive.Case(options.binary, book, env)
    if options.facts:
        for line in facts.compare(case.history, case.program):
            print(f"  fact: {line}")
    if options.ask:
        trees = [syntax.parse(text, case.meaning.rules) for text in options.ask]
    else:
        trees = case.made(filters, seed)
    found = list(case.compare(trees))
    counts = ", ".join(f"{n} {what}" for what, n in case.asked.items())
    print(f"book of seed {seed}: {len(case.history.joints)} joints, {counts}; {len(found)} differ; "
          f"made in {made - begin:.1f} s, asked in {time.monotonic() - made:.1f} s")
    for d in found:
        print(f"  differs: {d.small}\n"
              f"    joint {d.joint}: witness {drive.NAMES.get(d.mine, d.mine)}, "
              f"program {drive.NAMES.get(d.theirs, d.theirs)}; as asked: {d.text}")
    sys.stdout.flush()
    return bool(found)


def show_files(folder):
    """Prints the files and commands of a book."""
    for name in sorted(os.listdir(folder)):
        if name.endswith((".csv", ".toml", ".sh")):
            with open(os.path.join(folder, name), encoding="utf-8") as file:
                print(f"---- {name}\n{file.read()}")


if __name__ == "__main__":
    main()
