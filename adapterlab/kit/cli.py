"""The ``adapterlab`` command.

Exit codes: 0 all went well; 1 the dossier or a notebook has errors, or output could not be
written; 2 the command line was wrong; 130 interrupted, 129 or 143 ended by a signal.
"""

import argparse
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from adapterlab import __version__

_STEPS_EACH = 2


def _say(text: str) -> None:
    print(text, file=sys.stderr)


def _review(arguments: argparse.Namespace) -> int:
    from tqdm import tqdm

    from adapterlab.assess import SECTIONS
    from adapterlab.dossier import inspect_dossier
    from adapterlab.kit.folder import check_target
    from adapterlab.kit.review import write_review
    from adapterlab.kit.side_by_side import write_two_reviews

    sources, target = [Path(name) for name in arguments.dossier], Path(arguments.out)
    if len(sources) > 2:
        _say(f"adapterlab: review takes one dossier or two, got {len(sources)}")
        return 2
    for source in sources:
        if target.resolve().is_relative_to(source.resolve()):
            _say(
                f"adapterlab: {target} lies inside the dossier, "
                "and nothing is written into a dossier"
            )
            return 1
    check_target(target)
    failures = 0
    for source in sources:
        _, problems = inspect_dossier(source)
        errors = [problem for problem in problems if problem.severity == "error"]
        if errors:
            failures = _list_errors(source, errors)
        for problem in problems:
            if problem.severity == "warning":
                _say(str(problem))
    if failures:
        return failures
    with tqdm(total=_STEPS_EACH * len(SECTIONS) * len(sources), desc="review", unit="step") as bar:

        def step(text: str) -> None:
            bar.set_postfix_str(text, refresh=False)
            bar.update()

        if len(sources) == 2:
            runs = write_two_reviews((sources[0], sources[1]), target, step)
        else:
            runs = write_review(sources[0], target, step)
    failed = [run for run in runs if run.error]
    for run in failed:
        _say(f"adapterlab: {run.section.notebook} failed: {run.error}")
    print(f"{target / 'index.html'}")
    return 1 if failed else 0


def _list_errors(source: Path, errors: Sequence[object]) -> int:
    _say(f"adapterlab: {source} has {len(errors)} error{'s' if len(errors) > 1 else ''}")
    for problem in errors:
        _say(f"  {problem}")
    return 1


def _check(arguments: argparse.Namespace) -> int:
    from adapterlab.assess.verdict import assess
    from adapterlab.dossier import inspect_dossier
    from adapterlab.dossier.summary import understood
    from adapterlab.judgement import NOT_MEASURED

    source = Path(arguments.dossier)
    dossier, problems = inspect_dossier(source)
    errors = [problem for problem in problems if problem.severity == "error"]
    for problem in problems:
        if problem.severity != "error":
            print(problem)
    if dossier is None:
        return _list_errors(source, errors)
    for line in understood(dossier):
        print(line)
    gaps = assess(dossier).findings.with_word(NOT_MEASURED)
    for finding in gaps:
        print(f"gap: {finding.section}: {finding.sentence}")
    print(f"{source}: no errors, {len(gaps)} question{'s' if len(gaps) != 1 else ''} open")
    return 0


def _new(arguments: argparse.Namespace) -> int:
    from adapterlab.dossier.textfile import read_text
    from adapterlab.kit.new import nameplate_text, write_dossier

    if arguments.nameplate:
        text = read_text(Path(arguments.nameplate))
    else:
        missing = [
            option
            for option, value in (("--power", arguments.power), ("--port", arguments.port))
            if not value
        ]
        if missing:
            _say(f"adapterlab: give {' and '.join(missing)}, or a file with --nameplate")
            return 2
        name = arguments.name or Path(arguments.folder).name
        text = nameplate_text(
            name, arguments.power, arguments.mains, arguments.port, arguments.together
        )
    plan = write_dossier(Path(arguments.folder), text)
    print(f"{arguments.folder}: {len(plan.points)} load points planned; print bench_sheet.html")
    return 0


def _refresh(arguments: argparse.Namespace) -> int:
    from tqdm import tqdm

    from adapterlab.assess import SECTIONS
    from adapterlab.kit.notebooks import refresh

    wanted, stems = arguments.sections, [section.stem for section in SECTIONS]
    if set(wanted) - set(stems):
        _say(f"adapterlab: SECTION must be one of {', '.join(stems)}, got {', '.join(wanted)}")
        return 2
    chosen = [section for section in SECTIONS if not wanted or section.stem in wanted]
    with tqdm(total=len(chosen), desc="refresh", unit="notebook") as bar:
        runs = refresh(lambda _: bar.update(), chosen)
    for run in runs:
        if run.error:
            _say(f"adapterlab: {run.section.notebook} failed and was left as it was: {run.error}")
    return 1 if any(run.error for run in runs) else 0


def _lab(arguments: argparse.Namespace) -> int:
    from adapterlab.dossier import read_dossier
    from adapterlab.kit.notebooks import VARIABLE, notebook_folder

    environment = dict(os.environ)
    if arguments.dossier:
        read_dossier(arguments.dossier)
        environment[VARIABLE] = str(Path(arguments.dossier).resolve())
    command = [sys.executable, "-m", "jupyterlab", str(notebook_folder()), *arguments.options]
    return subprocess.run(command, env=environment, check=False).returncode


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="adapterlab",
        description="Bench readings of small mains-to-USB adapters, held against what their "
        "parts predict and against published limits.",
    )
    parser.add_argument("--version", action="version", version=f"adapterlab {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    review = commands.add_parser("review", help="run every notebook on a dossier, write a folder")
    review.add_argument(
        "dossier", nargs="+", help="folder with adapter.toml; two are set side by side"
    )
    review.add_argument(
        "--out", required=True, help="folder to write; replaced if a review wrote it"
    )
    review.set_defaults(run=_review)
    check = commands.add_parser("check", help="report every error and every gap of a dossier")
    check.add_argument("dossier", help="folder with adapter.toml")
    check.set_defaults(run=_check)
    new = commands.add_parser("new", help="write a blank dossier with its bench plan")
    new.add_argument("folder", help="folder to make")
    new.add_argument("--nameplate", metavar="FILE", help="TOML with [nameplate] and [[ports]]")
    new.add_argument("--name", help="name of the adapter; that of the folder if left out")
    new.add_argument("--power", metavar="WATTS", help="rated power, such as '27 W'")
    new.add_argument(
        "--mains", default="100-240 V", metavar="VOLTS", help="input voltage, such as '100-240 V'"
    )
    new.add_argument(
        "--port",
        action="append",
        default=[],
        metavar="MODES",
        help="a port and its modes, such as 'C1: 5 V 3 A, 9 V 3 A, 3.3-11 V 3 A'; may be repeated",
    )
    new.add_argument(
        "--together",
        action="append",
        default=[],
        metavar="LOADS",
        help="ports the label allows at once, such as 'C1 20 V 2 A, C2 9 V 2.22 A'",
    )
    new.set_defaults(run=_new)
    lab = commands.add_parser("lab", help="open JupyterLab on the notebooks")
    lab.add_argument("dossier", nargs="?", help="dossier they shall read; the demo if left out")
    lab.set_defaults(run=_lab, options=[])
    refresh = commands.add_parser("refresh", help="re-run the notebooks and store their outputs")
    refresh.add_argument(
        "sections", nargs="*", metavar="SECTION", help="such as inrush; all if left out"
    )
    refresh.set_defaults(run=_refresh)
    return parser


class _Ended(KeyboardInterrupt):
    """A signal that asks the command to end; its number is the argument."""


def _end(number: int, frame: FrameType | None) -> None:
    raise _Ended(number)


@contextmanager
def _signals_end_tidily() -> Iterator[None]:
    """Let a closed terminal and `kill` end the command as Ctrl-C does.

    What was ignored when the command was started, as under ``nohup``, stays ignored.
    """
    names = ("SIGTERM", "SIGHUP") if threading.current_thread() is threading.main_thread() else ()
    numbers = [getattr(signal, name) for name in names if hasattr(signal, name)]
    heard = [number for number in numbers if signal.getsignal(number) == signal.SIG_DFL]
    for number in heard:
        signal.signal(number, _end)
    try:
        yield
    finally:
        for number in heard:
            signal.signal(number, signal.SIG_DFL)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : sequence of str, optional
        Command line without the program's name; that of the process if left out.

    Returns
    -------
    int
        Exit code.
    """
    parsed = _parser().parse_args(arguments)
    try:
        with _signals_end_tidily():
            return int(parsed.run(parsed))
    except KeyboardInterrupt as stop:
        _say("adapterlab: interrupted; nothing was written")
        return 128 + int(stop.args[0] if isinstance(stop, _Ended) else signal.SIGINT)
    except BrokenPipeError:
        return 1
    except (OSError, ValueError, RuntimeError) as error:
        _say(f"adapterlab: {error}")
        return 1


if __name__ == "__main__":
    sys.exit(main())
