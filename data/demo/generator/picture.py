"""A drawing that stands in for a photograph: the invented board of birch-60 from above."""

import struct
import zlib
from pathlib import Path

import numpy as np

WIDTH, HEIGHT = 480, 320
_COLOURS = np.array(
    [
        [245, 245, 242],  # 0 table
        [46, 92, 66],  # 1 board
        [120, 150, 125],  # 2 bare strip
        [25, 25, 28],  # 3 black
        [60, 95, 150],  # 4 blue
        [225, 195, 80],  # 5 yellow
        [190, 190, 195],  # 6 metal
        [130, 80, 50],  # 7 brown
    ],
    dtype=np.uint8,
)


def board() -> np.ndarray:
    """Palette indices of the picture. shape (HEIGHT, WIDTH)."""
    picture = np.zeros((HEIGHT, WIDTH), dtype=np.uint8)
    down, across = np.mgrid[:HEIGHT, :WIDTH]

    def box(left: int, top: int, wide: int, high: int, colour: int) -> None:
        picture[top : top + high, left : left + wide] = colour

    def disc(x: int, y: int, radius: int, colour: int, hole: int = 0) -> None:
        square = (across - x) ** 2 + (down - y) ** 2
        picture[(square <= radius**2) & (square >= hole**2)] = colour

    box(30, 30, 420, 260, 1)
    box(286, 30, 26, 260, 2)
    for y in (120, 190):  # mains pins
        box(8, y, 40, 14, 6)
    box(56, 60, 44, 16, 6)  # fuse
    disc(84, 110, 16, 3)  # thermistor
    disc(84, 158, 18, 4)  # varistor
    box(60, 200, 48, 34, 5)  # X capacitor
    disc(144, 84, 30, 3, 13)  # choke
    disc(144, 84, 30, 7, 22)
    box(124, 140, 40, 26, 3)  # bridge
    for y in (96, 206):  # bulk capacitors
        disc(210, y, 32, 4)
        disc(210, y, 24, 6)
    for top, high in ((50, 84), (168, 66)):  # transformers
        box(252, top, 86, high, 3)
        box(268, top + 8, 54, high - 16, 5)
    disc(299, 152, 10, 4)  # barrier capacitor
    for top in (242, 264):  # couplers
        box(278, top, 42, 14, 3)
    for y in (70, 112):  # output capacitors
        disc(372, y, 16, 6)
    disc(372, 196, 14, 6)
    box(346, 140, 46, 22, 6)  # heat spreader
    for top, high in ((60, 40), (132, 40), (214, 50)):  # ports
        box(412, top, 48, high, 6)
    return picture


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def write_picture(path: Path) -> None:
    """Write the board as a PNG, uncompressed, so that the bytes are the same everywhere."""
    rows = np.hstack([np.zeros((HEIGHT, 1), np.uint8), (board()[:, ::2] << 4) | board()[:, 1::2]])
    raw = rows.astype(np.uint8).tobytes()
    pieces = [raw[start : start + 65535] for start in range(0, len(raw), 65535)]
    stream = b"\x78\x01"
    for number, piece in enumerate(pieces, start=1):
        stream += (
            struct.pack("<BHH", number == len(pieces), len(piece), len(piece) ^ 0xFFFF) + piece
        )
    stream += struct.pack(">I", zlib.adler32(raw))
    header = struct.pack(">IIBBBBB", WIDTH, HEIGHT, 4, 3, 0, 0, 0)
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + _chunk(b"IHDR", header)
        + _chunk(b"PLTE", _COLOURS.tobytes())
        + _chunk(b"IDAT", stream)
        + _chunk(b"IEND", b"")
    )
