"""Write the demo dossiers, or random adapters of a simulated world, each with its recorded truth.

``python data/demo/generate.py`` writes the demo; every run writes the same bytes.
``python data/demo/generate.py --random 200 --seed 1 --out DIR`` writes random adapters: their
dossiers in DIR, their truth in DIR/truth. ``--fault KIND`` plants a fault in each of them.
"""

import argparse
from pathlib import Path

from generator.world.faults import KINDS
from generator.world.make import generate as generate_random


def demo() -> None:
    """Write the demo adapters and the peer group."""
    from generator import alder, birch, cedar, dogwood, peers

    for adapter in (alder, birch, cedar, dogwood):
        session = adapter.generate()
        print(f"{session.truth.name}: {session.points} operating points")
    print(f"peers: {peers.generate()} adapters")


def main() -> None:
    """Read the arguments and write."""
    kinds = "; ".join(f"{name}: {text[0]}" for name, text in KINDS.items())
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--random", type=int, metavar="N", help="write N random adapters")
    parser.add_argument("--seed", type=int, default=1, help="seed of the random adapters")
    parser.add_argument("--first", type=int, default=0, metavar="I", help="number of the first")
    parser.add_argument("--out", type=Path, metavar="DIR", help="folder for them")
    parser.add_argument("--fault", choices=KINDS, default="", help=kinds)
    parser.add_argument("--size", type=float, help="size of the fault, drawn if not given")
    given = parser.parse_args()
    if given.random is None:
        demo()
        return
    if given.out is None or given.random < 1:
        parser.error("--random needs a number of at least 1 and --out")
    given.out.mkdir(parents=True, exist_ok=True)
    for name in generate_random(
        given.random, given.seed, given.out, given.fault, given.size, given.first
    ):
        print(name)


if __name__ == "__main__":
    main()
