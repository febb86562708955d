"""What can be wrong with a dossier, said so that its writer can mend it.

`Problem` is one remark; `DossierError` carries all errors of a dossier at once.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Severity = Literal["error", "warning", "gap", "note"]


@dataclass(frozen=True)
class Problem:
    """One remark on a dossier.

    Attributes
    ----------
    severity : str
        ``error``: must be mended; ``warning``: readable but implausible; ``gap``: a part is
        missing, so something stays *not measured*; ``note``: harmless.
    file : str
        File inside the dossier folder.
    message : str
        What is wrong and what is allowed.
    line : int or None
        Line in the file, counted from 1.
    column : str
        Column of a table or key of a TOML file; empty where the whole file is meant.
    value : str
        What stood there; empty where nothing did.
    """

    severity: Severity
    file: str
    message: str
    line: int | None = None
    column: str = ""
    value: str = ""

    def __str__(self) -> str:
        """One line: place, value, message."""
        place = self.file + (f", line {self.line}" if self.line is not None else "")
        if self.column:
            place += f", {self.column}"
        shown = f" {_shorten(self.value)!r}:" if self.value else ""
        return f"{self.severity}: {place}:{shown} {self.message}"


def _shorten(text: str, length: int = 60) -> str:
    return text if len(text) <= length else text[: length - 1] + "…"


class DossierError(ValueError):
    """A dossier that can't be used as it stands; `problems` holds every error found."""

    def __init__(self, folder: str, problems: Sequence[Problem]) -> None:
        self.folder = folder
        self.problems = tuple(problems)
        count = len(self.problems)
        head = f"{folder}: {count} error{'s' if count != 1 else ''}"
        super().__init__("\n".join([head, *map(str, self.problems)]))
