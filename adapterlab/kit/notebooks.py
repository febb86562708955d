"""Finding, running and storing the notebooks."""

import asyncio
import os
import warnings
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from queue import Empty, Queue
from typing import Any

import IPython  # noqa: F401  imported here, before threads race to be the first
import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError

from adapterlab.assess import SECTIONS, Section

CELL_TIMEOUT = 120
VARIABLE = "ADAPTERLAB_DOSSIER"
_CLEAR = "get_ipython().reset(new_session=True)\nget_ipython().execution_count = 1"
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


def _client(path: Path, kernel: Any = None) -> NotebookClient:
    notebook = nbformat.read(path, as_version=4)
    return NotebookClient(
        notebook,
        km=kernel,
        kernel_name="python3",
        timeout=CELL_TIMEOUT,
        coalesce_streams=True,
        extra_arguments=["--log-level=ERROR"],
        resources={"metadata": {"path": str(path.parent)}},
    )


def _one_line(error: Exception) -> str:
    if isinstance(error, CellExecutionError):
        return f"{error.ename}: {error.evalue.splitlines()[0] if error.evalue else ''}"
    if isinstance(error, CellTimeoutError):
        return f"a cell took longer than {CELL_TIMEOUT} s"
    if isinstance(error, DeadKernelError):
        return "its Python process died"
    return f"{type(error).__name__}: {error}"


class _Worker:
    """Runs notebooks one after the other; unless `fresh`, in one Python process.

    Starting Python and importing takes longer than most notebooks, so a process is kept and
    its variables are cleared between notebooks. One that failed is not used again.
    """

    def __init__(self, environment: dict[str, str], *, fresh: bool) -> None:
        self.environment = environment
        self.fresh = fresh
        self.kernel: Any = None
        self._cancel: Callable[[], object] = lambda: None

    async def run_all(
        self, waiting: Queue[tuple[Section, Path]], done: Callable[[Run], object]
    ) -> None:
        """Take notebooks until none is left."""
        task, loop = asyncio.current_task(), asyncio.get_running_loop()
        if task is not None:
            self._cancel = partial(loop.call_soon_threadsafe, task.cancel)
        try:
            while True:
                try:
                    section, path = waiting.get_nowait()
                except Empty:
                    return
                done(await self._run(section, path))
        finally:
            await self._stop()

    async def _run(self, section: Section, path: Path) -> Run:
        try:
            client = _client(path)
        except Exception as error:
            return Run(section, None, f"{section.notebook} can't be read: {error}")
        try:
            if self.kernel is None:
                self.kernel = client.create_kernel_manager()
            else:
                client = _client(path, self.kernel)
            await client.async_execute(env=self.environment, cleanup_kc=False)
            if self.fresh:
                await self._stop()
            elif client.kc is not None:
                client.kc.execute(_CLEAR, silent=True)
        except Exception as error:
            await self._stop()
            return Run(section, None, _one_line(error))
        finally:
            if client.kc is not None:
                client.kc.stop_channels()
        return Run(section, client.nb)

    async def _stop(self) -> None:
        kernel, self.kernel = self.kernel, None
        if kernel is not None and kernel.has_kernel:
            await kernel.shutdown_kernel(now=True)

    def stop(self) -> None:
        """Give up at once, from another thread than the one that runs the notebooks."""
        with suppress(RuntimeError):  # its loop may have closed
            self._cancel()


def run_notebooks(
    dossier: Path | None,
    done: Callable[[Run], object],
    *,
    workers: int = 2,
    fresh: bool = False,
    meanwhile: Callable[[], object] | None = None,
    sections: Sequence[Section] | None = None,
) -> list[Run]:
    """Run every section's notebook on a dossier, some at a time.

    Parameters
    ----------
    dossier : pathlib.Path or None
        Folder the notebooks read; None for the one they name themselves.
    done : callable
        Called with each `Run` as it ends, in a worker's thread.
    workers : int, optional
        Notebooks at a time.
    fresh : bool, optional
        Whether each notebook gets a Python process of its own.
    meanwhile : callable, optional
        Called in this thread while the notebooks run.
    sections : sequence of Section, optional
        Whose notebooks to run; all if left out.

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
    sections = SECTIONS if sections is None else sections
    environment = {key: value for key, value in os.environ.items() if key != VARIABLE}
    if dossier is not None:
        environment[VARIABLE] = str(dossier.resolve())
    waiting: Queue[tuple[Section, Path]] = Queue()
    # The verdict takes longest, for it assesses everything: begin with it.
    for section in reversed(sections):
        waiting.put((section, folder / section.notebook))
    runs: dict[Section, Run] = {}

    def finished(run: Run) -> None:
        runs[run.section] = run
        done(run)

    staff = [_Worker(environment, fresh=fresh) for _ in range(workers)]
    pool = ThreadPoolExecutor(workers)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            futures = [
                pool.submit(asyncio.run, worker.run_all(waiting, finished)) for worker in staff
            ]
            if meanwhile is not None:
                meanwhile()
            for future in as_completed(futures):
                future.result()
    except BaseException:
        with waiting.mutex:
            waiting.queue.clear()
        for worker in staff:
            worker.stop()
        pool.shutdown(cancel_futures=True)
        raise
    pool.shutdown()
    return [runs[section] for section in sections]


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


def refresh(done: Callable[[Run], object], sections: Sequence[Section] | None = None) -> list[Run]:
    """Run every notebook on its own dossier and store the outputs beside the code.

    Parameters
    ----------
    done : callable
        Called with each `Run` as it ends.
    sections : sequence of Section, optional
        Whose notebooks to run; all if left out.

    Returns
    -------
    list of Run
        One for each section; a notebook that failed is left as it was.
    """
    folder = notebook_folder()
    runs = run_notebooks(None, done, fresh=True, sections=sections)
    for run in runs:
        if run.notebook is not None:
            nbformat.write(tidy(run.notebook), folder / run.section.notebook)
    return runs
