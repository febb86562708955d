"""Output folders that appear whole or not at all, and never swallow anybody's files."""

import json
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

MANIFEST = "manifest.json"


class OutputError(OSError):
    """An output folder that can't or may not be written; the message is for a reader."""


def _files(folder: Path) -> set[str]:
    return {
        path.relative_to(folder).as_posix()
        for path in folder.rglob("*")
        if path.is_file() or path.is_symlink()
    }


def check_target(target: Path) -> None:
    """Refuse a folder that holds anything this kit did not write.

    Parameters
    ----------
    target : pathlib.Path
        Where output is wanted; may be missing, empty, or an earlier output.

    Raises
    ------
    OutputError
        If it is a file, holds foreign files, or its parent can't be written to.
    """
    if target.exists() and not target.is_dir():
        raise OutputError(f"{target} is a file, not a folder")
    if target.is_dir():
        present = _files(target)
        written: set[str] = set()
        if (target / MANIFEST).is_file():
            try:
                listed = json.loads((target / MANIFEST).read_text(encoding="utf-8"))
                written = {MANIFEST, *listed["files"]}
            except (ValueError, KeyError, TypeError):
                written = set()
        foreign = sorted(present - written)
        if foreign:
            raise OutputError(
                f"{target} holds files that no review wrote ({foreign[0]}"
                f"{' and others' if len(foreign) > 1 else ''}); choose another folder"
            )
    parent = target.resolve().parent
    if not parent.is_dir():
        raise OutputError(f"{parent} does not exist; make it first or choose another folder")


@contextmanager
def whole_folder(target: Path) -> Iterator[Path]:
    """A folder to fill, which becomes `target` when the block ends well.

    Parameters
    ----------
    target : pathlib.Path
        Final place; an earlier output there is replaced.

    Yields
    ------
    pathlib.Path
        Temporary folder beside the target; removed if the block fails.

    Raises
    ------
    OutputError
        As `check_target`, or if the folder can't be made.
    """
    check_target(target)
    final = target.resolve()
    try:
        draft = Path(tempfile.mkdtemp(prefix=f".{final.name}-", dir=final.parent))
    except OSError as error:
        raise OutputError(f"can't write beside {final.parent}: {error.strerror}") from None
    try:
        draft.chmod(0o755)
        yield draft
        listing = {"written_by": "adapterlab", "files": sorted(_files(draft))}
        (draft / MANIFEST).write_text(json.dumps(listing, indent=1) + "\n", encoding="utf-8")
        check_target(target)
        if final.exists():
            old = Path(tempfile.mkdtemp(prefix=f".{final.name}-old-", dir=final.parent))
            final.rename(old / "review")
            draft.rename(final)
            shutil.rmtree(old, ignore_errors=True)
        else:
            draft.rename(final)
    finally:
        if draft.exists():
            shutil.rmtree(draft, ignore_errors=True)
