"""What a capture can be of: what each kind must hold to be read, and which sections read it.

`KINDS` is the one place that knows. The schema takes its words from here, `check` says what a
capture lacks and which nobody reads, and sections ask `lacking` before they read one.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from adapterlab.dossier.schema import Capture


@dataclass(frozen=True)
class CaptureKind:
    """One kind of oscilloscope record.

    Attributes
    ----------
    name : str
        As written in ``[[captures]]``.
    channels : tuple of str
        Quantities of which there must be a channel, ``voltage`` or ``current``.
    needs : tuple of str
        Keys of the capture without which nothing is read of it.
    helps : tuple of str
        Keys of the capture without which less is read of it.
    sections : tuple of str
        Sections that read it.
    """

    name: str
    channels: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    helps: tuple[str, ...] = ()
    sections: tuple[str, ...] = ()


_OUTPUT = ("output_quality",)
KINDS = {
    kind.name: kind
    for kind in (
        CaptureKind(
            "plug-in", ("current",), ("mains_voltage", "mains_frequency"), ("rest_time",),
            ("inrush",),
        ),
        CaptureKind(
            "mains", ("voltage", "current"), (), ("port", "mode", "load_current", "mains_voltage"),
            ("mains_current",),
        ),
        CaptureKind(
            "ripple", ("voltage",), (),
            ("port", "mode", "load_current", "mains_frequency", "bandwidth"), _OUTPUT,
        ),
        CaptureKind("load step", ("voltage", "current"), (), ("port", "mode"), _OUTPUT),
        CaptureKind("port change", ("voltage",), ("port",), ("mode", "other_port"), _OUTPUT),
        CaptureKind("start-up", ("voltage",), (), ("port", "mode"), _OUTPUT),
        CaptureKind("overcurrent", ("voltage", "current"), (), ("port", "mode"), _OUTPUT),
        CaptureKind("other"),
    )
}  # fmt: skip


def known_kind(name: str) -> str:
    """`name` as it is.

    Raises
    ------
    ValueError
        If there is no kind of that name; the message lists those there are.
    """
    if name not in KINDS:
        raise ValueError(f"allowed: {', '.join(map(repr, KINDS))}")
    return name


def _unset(capture: "Capture", keys: Iterable[str]) -> list[str]:
    return [key for key in keys if getattr(capture, key) in (None, "")]


def lacking(capture: "Capture") -> str:
    """What must be added to a capture before anything is read of it; empty if nothing.

    Parameters
    ----------
    capture : Capture
        Its entry in ``adapter.toml``.

    Returns
    -------
    str
        Such as ``a current channel and mains_voltage``.
    """
    kind = KINDS[capture.kind]
    held = {channel.quantity for channel in capture.channels}
    wanted = [f"a {quantity} channel" for quantity in kind.channels if quantity not in held]
    return " and ".join(wanted + _unset(capture, kind.needs))


def unhelped(capture: "Capture") -> str:
    """What would let more be read of a capture; empty if nothing.

    Parameters
    ----------
    capture : Capture
        Its entry in ``adapter.toml``.

    Returns
    -------
    str
        Names of keys, joined by commas.
    """
    return ", ".join(_unset(capture, KINDS[capture.kind].helps))
