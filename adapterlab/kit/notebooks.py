"""Finding, running and storing the notebooks."""

import asyncio
import os
import warnings
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError

from adapterlab.assess import SECTIONS, Section

CELL_TIMEOUT = 120
VARIABLE = "ADAPTERLAB_DOSSIER"
_METADATA = {
    "kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"},
    "language_info": {"name": "python"},
}


class NotebookError(RuntimeError):
    """A notebook that could not be run to its end; the message is for a reader."""


@dataclass(frozen=True)
class Run:
    """One notebook after its run.

    Attributes
    ----------
    section : Section
        Its section.
    notebook : nbformat.NotebookNode or None
        The executed notebook; None if it failed.
    error : str
        What went wrong, in one line; empty if nothing did.
    """

    section: Section
    notebook: Any
    error: str = ""


def notebook_folder() -> Path:
    """Folder of the notebooks: in the source tree, or inside an installed package.

    Returns
    -------
    pathlib.Path
        The folder.

    Raises
    ------
    NotebookError
        If neither exists.
    """
    package = Path(__file__).resolve().parent.parent
    for folder in (package.parent / "notebooks", package / "_notebooks"):
        if (folder / SECTIONS[0].notebook).is_file():
            return folder
    raise NotebookError("the notebooks are missing from this installation")


def _client(path: Path) -> tuple[NotebookClient, Any]:
    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook,
        kernel_name="python3",
        timeout=CELL_TIMEOUT,
        extra_arguments=["--log-level=ERROR"],
        resources={"metadata": {"path": str(path.parent)}},
    )
    return client, notebook


def _one_line(error: Exception) -> str:
    if isinstance(error, CellExecutionError):
        return f"{error.ename}: {error.evalue.splitlines()[0] if error.evalue else ''}"
    if isinstance(error, CellTimeoutError):
        return f"a cell took longer than {CELL_TIMEOUT} s"
    if isinstance(error, DeadKernelError):
        return "its Python process died"
    return f"{type(error).__name__}: {error}"


def _execute(client: NotebookClient, environment: dict[str, str]) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        asyncio.run(client.async_execute(env=environment))


def run_notebooks(
    dossier: Path | None, done: Callable[[Run], object], workers: int = 2
) -> list[Run]:
    """Run every section's notebook on a dossier, some at a time.

    Parameters
    ----------
    dossier : pathlib.Path or None
        Folder the notebooks read; None for the one they name themselves.
    done : callable
        Called with each `Run` as it ends.
    workers : int, optional
        Notebooks at a time.

    Returns
    -------
    list of Run
        One for each section, in reading order; a failure of one does not stop the others.

    Raises
    ------
    NotebookError
        If the notebooks can't be found.
    KeyboardInterrupt
        If interrupted; the kernels are stopped first.
    """
    folder = notebook_folder()
    environment = {key: value for key, value in os.environ.items() if key != VARIABLE}
    if dossier is not None:
        environment[VARIABLE] = str(dossier.resolve())
    jobs: dict[Section, tuple[NotebookClient, Any]] = {}
    runs: dict[Section, Run] = {}
    for section in SECTIONS:
        try:
            jobs[section] = _client(folder / section.notebook)
        except Exception as error:
            runs[section] = Run(section, None, f"{section.notebook} can't be read: {error}")
            done(runs[section])
    pool = ThreadPoolExecutor(workers)
    futures = {
        pool.submit(_execute, client, environment): section for section, (client, _) in jobs.items()
    }
    try:
        for future in as_completed(futures):
            section = futures[future]
            failure = future.exception()
            if failure is None:
                runs[section] = Run(section, jobs[section][1])
            elif isinstance(failure, Exception):
                runs[section] = Run(section, None, _one_line(failure))
            else:
                raise failure
            done(runs[section])
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        for client, _ in jobs.values():
            _kill(client)
        raise
    pool.shutdown()
    return [runs[section] for section in SECTIONS]


def _kill(client: NotebookClient) -> None:
    """Stop a client's kernel at once, from another thread than the one that runs it."""
    provisioner = getattr(client.km, "provisioner", None)
    process = getattr(provisioner, "process", None)
    if process is not None and process.poll() is None:
        process.kill()


def tidy(notebook: Any) -> Any:
    """Reduce a notebook to what is the same after every run.

    Parameters
    ----------
    notebook : nbformat.NotebookNode
        An executed notebook; changed in place.

    Returns
    -------
    nbformat.NotebookNode
        The same notebook: cells numbered, no timestamps, no Python version.
    """
    for index, cell in enumerate(notebook.cells):
        cell.id = f"cell-{index:03d}"
        cell.metadata = {key: value for key, value in cell.metadata.items() if key == "tags"}
    notebook.metadata = nbformat.from_dict(_METADATA)
    notebook.nbformat_minor = 5
    return notebook


def refresh(done: Callable[[Run], object]) -> list[Run]:
    """Run every notebook on its own dossier and store the outputs beside the code.

    Parameters
    ----------
    done : callable
        Called with each `Run` as it ends.

    Returns
    -------
    list of Run
        One for each section; a notebook that failed is left as it was.
    """
    folder = notebook_folder()
    runs = run_notebooks(None, done)
    for run in runs:
        if run.notebook is not None:
            nbformat.write(tidy(run.notebook), folder / run.section.notebook)
    return runs
