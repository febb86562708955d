"""Write the demo dossiers, their recorded truth, and the peer group.

Run ``python data/demo/generate.py``; every run writes the same bytes.
"""

from generator import alder, birch, cedar, dogwood, peers


def main() -> None:
    """Write everything."""
    for adapter in (alder, birch, cedar, dogwood):
        session = adapter.generate()
        print(f"{session.truth.name}: {session.points} operating points")
    print(f"peers: {peers.generate()} adapters")


if __name__ == "__main__":
    main()
