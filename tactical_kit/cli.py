"""The command line: open the starter notebooks, explore, check, convert, find, check claims, outline, simulate."""

from __future__ import annotations

import argparse
import dataclasses
import os
import shlex
import shutil
import signal
import socket
import sys
import threading
import traceback
import warnings
import webbrowser
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from tactical_kit import __version__
from tactical_kit.errors import MissingDataError, TacticalKitError, UnknownNameError, suggest

if TYPE_CHECKING:
    from tactical_kit.claims import ClaimSheet

__all__ = ["FINE", "INTERRUPTED", "KIT_FAILED", "PROBLEMS", "WRONG_USE", "main"]

FINE, PROBLEMS, WRONG_USE, KIT_FAILED, INTERRUPTED = 0, 1, 2, 3, 130
DEFAULT_FOLDER = "tactical-kit-notebooks"
TABLE_ENDINGS = (".csv", ".tsv", ".txt", ".xlsx", ".parquet")
EXIT_CODES = """\
exit codes:
  0    fine (a page or JupyterLab ended by Ctrl-C is fine, too)
  1    problems found in the input, or claims that do not hold; each is listed
  2    wrong use: unknown option, missing file, a target that is already there
  3    the kit itself failed; --debug shows where
  130  interrupted
"""


class WrongUse(TacticalKitError):
    """The command line asks for what cannot be done: exit code 2."""


class KitFailed(TacticalKitError):
    """Something of the kit's own is missing or did not start: exit code 3."""


_CODES = {WrongUse: WRONG_USE, KitFailed: KIT_FAILED}


def _parser() -> argparse.ArgumentParser:
    def command(
        name: str, run: Callable[[Any], int], text: str, example: str, *parents: argparse.ArgumentParser
    ) -> argparse.ArgumentParser:
        part = commands.add_parser(
            name, help=text, description=text[0].upper() + text[1:] + ".", allow_abbrev=False,
            parents=[common, *parents], epilog=f"example:\n  {example}\n\n{EXIT_CODES}",
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )  # fmt: skip
        part.set_defaults(run=run)
        return part

    # SUPPRESS: a default set by the subcommand would overwrite what stood before its name.
    common = argparse.ArgumentParser(add_help=False, argument_default=argparse.SUPPRESS)
    common.add_argument("--debug", action="store_true", help="show the traceback of an error")
    opening = argparse.ArgumentParser(add_help=False, argument_default=argparse.SUPPRESS)
    opening.add_argument("--no-browser", action="store_true", help="print the address instead of opening a browser")
    opening.add_argument("--port", type=int, metavar="N", help="port on this machine (default: any free one)")
    laying = argparse.ArgumentParser(add_help=False, argument_default=argparse.SUPPRESS)
    laying.add_argument(
        "--folder", metavar="DIR",
        help=f"where the starter notebooks are laid, never over a file that is there (default: {DEFAULT_FOLDER})",
    )  # fmt: skip

    parser = argparse.ArgumentParser(
        prog="tactical-kit", parents=[common, laying, opening], allow_abbrev=False,
        description="Tactical analysis of association-football matches in notebooks. "
        "Without a command: open JupyterLab on the starter notebook with the demonstration match.",
        epilog="examples:\n  tactical-kit\n  tactical-kit --folder my-analysis\n  tactical-kit check events.csv\n\n"
        + EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    parser.add_argument("--version", action="version", version=f"tactical-kit {__version__}")
    parser.set_defaults(run=_open)
    commands = parser.add_subparsers(metavar="COMMAND", title="commands")

    command("open", _open, "lay the starter notebooks into a folder and open JupyterLab on them",
            "tactical-kit open --folder my-analysis", laying, opening)  # fmt: skip
    part = command("explore", _explore, "show the explorer of a match as a page of this machine, without Jupyter",
                   "tactical-kit explore my-match", opening)  # fmt: skip
    part.add_argument("match", metavar="MATCH", help="match folder, open-standard folder or mapping file; or: demo")
    part.add_argument("--view", metavar="TEXT", help="start from a view that was copied from the explorer")
    part = command("check", _check, "check input files and report every problem; draft a mapping for a table",
                   "tactical-kit check events.csv --mapping events.toml")  # fmt: skip
    part.add_argument("files", metavar="FILE", nargs="+", help="match folder, open-standard files, table, mapping")
    part.add_argument("--mapping", metavar="TOML", help="write the drafted mapping of a table into this new file")
    part = command("convert", _convert, "read a match in any known form and write it in another",
                   "tactical-kit convert events.toml my-match")  # fmt: skip
    part.add_argument("source", metavar="IN", help="what to read")
    part.add_argument("target", metavar="OUT", help="folder to write; it must not hold something else")
    part.add_argument("--to", choices=("folder", "cdf"), default="folder",
                      help="form to write: the kit's match folder (default) or the Common Data Format")  # fmt: skip
    part = command("finders", _finders, "list what can be found, what it needs and what it measures",
                   "tactical-kit finders my-match")  # fmt: skip
    part.add_argument("match", metavar="MATCH", nargs="?", help="say also which finders can run on this match")
    part.add_argument("--about", metavar="NAME", help="columns and thresholds of one finder")
    part = command("find", _find, "search a match with a finder and list the moments, or write them as a table",
                   "tactical-kit find my-match possession --set min_control_s=1 --csv spells.csv")  # fmt: skip
    part.add_argument("match", metavar="MATCH", help="match folder, open-standard folder or mapping file; or: demo")
    part.add_argument("name", metavar="NAME", nargs="+", help="name of the finder, as `tactical-kit finders` lists it")
    part.add_argument("--set", dest="settings", metavar="THRESHOLD=VALUE", action="append", default=[],
                      help="another value of a threshold; may be given several times")  # fmt: skip
    part.add_argument("--where", metavar="CONDITION", action="append", default=[],
                      help="only moments that meet it, as 'passes at least 5'; may be given several times")  # fmt: skip
    part.add_argument("--csv", metavar="FILE", help="write the moments into this new file")
    part = command("claims", _claims, "count every claim of a claim sheet and say which the match bears",
                   "tactical-kit claims claims.toml --match my-match")  # fmt: skip
    part.add_argument("sheet", metavar="SHEET", help="claim sheet (.toml)")
    part.add_argument(
        "--match", metavar="MATCH", help="the match (default: the one the sheet names, or lies in); or: demo"
    )
    part.add_argument("--strict", action="store_true", help="a claim holds only where the interval bears it")
    part.add_argument("--csv", metavar="FILE", help="write the table into this new file")
    part = command("story", _story, "outline a match: what is frequent, what changed at the interval, what is unusual",
                   "tactical-kit story my-match --team home --sheet claims.toml")  # fmt: skip
    part.add_argument("match", metavar="MATCH", help="match folder, open-standard folder or mapping file; or: demo")
    part.add_argument(
        "--team", metavar="NAME", help="lines of one side, and those about both: its name, its id, home, away"
    )
    part.add_argument("--sheet", metavar="FILE", help="add the lines that are claims to this claim sheet (.toml)")
    part = command("demo", _demo, "simulate an invented demonstration match",
                   "tactical-kit demo another-match --seed 7 --rate 25")  # fmt: skip
    part.add_argument("target", metavar="OUT", help="folder to write; it must not hold something else")
    part.add_argument("--seed", type=int, metavar="N", help="another number, another match (default: the kit's own)")
    part.add_argument("--rate", type=int, choices=(25, 5, 1), default=25, metavar="HZ",
                      help="frames per second: 25 (default), 5 or 1")  # fmt: skip
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code; errors come as sentences on standard error.

    Parameters
    ----------
    argv : sequence of str, optional
        The arguments; those of the process by default.
    """
    parser = _parser()
    try:
        args = parser.parse_args(argv)
    except SystemExit as done:  # argparse has said what is wrong, or printed the help
        return int(done.code or 0)
    debug = getattr(args, "debug", False)
    try:
        with warnings.catch_warnings():
            if not debug:  # a warning is a sentence, too; with --debug it says where it came from
                warnings.showwarning = lambda message, *_, **__: _say(str(message))
            return int(args.run(args))
    except KeyboardInterrupt:
        _say("Interrupted.")
        return INTERRUPTED
    except BrokenPipeError:  # the reader of a pipe has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE
    except Exception as error:
        if debug:
            traceback.print_exc()
        if isinstance(error, TacticalKitError):
            _say(str(error))
            return _CODES.get(type(error), PROBLEMS)
        if isinstance(error, OSError):
            _say(f"{error.filename or 'The system'}: {error.strerror or error}.")
            return WRONG_USE
        hint = "" if debug else " Run it again with --debug to see where, and please report it."
        _say(f"The kit failed where it should not ({type(error).__name__}: {error}).{hint}")
        return KIT_FAILED


def _say(text: str) -> None:
    print(f"tactical-kit: {text}", file=sys.stderr)


def _there(name: str) -> Path:
    """The path of an input that must exist; a near spelling is offered where there is one."""
    path = Path(name)
    if path.exists():
        return path
    near = []
    if path.parent.is_dir():
        near = [p.name for p in path.parent.iterdir() if not p.name.startswith(".")]
    raise WrongUse(f"there is no file or folder {name!r} here.{suggest(path.name, near)}")


def _screen(args: argparse.Namespace) -> bool:
    from tactical_kit.lab import has_screen

    return not getattr(args, "no_browser", False) and has_screen()


def _port(args: argparse.Namespace) -> int:
    """The port that was asked for, 0 for any; one that is taken is refused before anything starts."""
    port = int(getattr(args, "port", 0))
    if not 0 <= port <= 65535:
        raise WrongUse(f"--port is {port}; expected 1 to 65535.")
    with socket.socket() as probe:
        if port and probe.connect_ex(("127.0.0.1", port)) == 0:
            raise WrongUse(f"something listens on port {port} already; name another --port, or none for any free one.")
    return port


class _Stopped(Exception):
    """The process was asked to end (SIGTERM, or its terminal closed)."""


def _stop_on_signals() -> None:
    """Turn a request to end into an exception, so that servers are stopped on the way out."""

    def stop(*_: object) -> NoReturn:
        raise _Stopped

    if threading.current_thread() is threading.main_thread():
        for name in ("SIGTERM", "SIGHUP"):
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), stop)


def _open(args: argparse.Namespace) -> int:
    from tactical_kit.lab import start_lab
    from tactical_kit.starter import FIRST_NOTEBOOK, lay_starter

    port = _port(args)
    try:
        laid = lay_starter(getattr(args, "folder", DEFAULT_FOLDER))
    except OSError as error:
        raise WrongUse(f"cannot write into {error.filename}: {error.strerror}. Name another --folder.") from error
    except MissingDataError as error:
        raise KitFailed(str(error)) from error
    except TacticalKitError as error:  # a file is where the folder should be
        raise WrongUse(str(error)) from error
    print(laid.words())
    browser = _screen(args)
    _stop_on_signals()
    lab = None
    try:
        # The kit's own notebook runs at once; one that the user has changed waits to be run.
        own = Path(FIRST_NOTEBOOK) not in laid.changed
        lab = start_lab(laid.folder, FIRST_NOTEBOOK, browser=browser, run=own, port=port)
        print(
            ("Your browser opens " if browser else "Open this address in a browser:\n  ") + lab.address(FIRST_NOTEBOOK)
        )
        print("JupyterLab runs on this machine only. Ctrl-C here ends it.", flush=True)
        lab.process.wait()
        return FINE
    except TacticalKitError as error:
        raise KitFailed(str(error)) from error
    except (KeyboardInterrupt, _Stopped):
        print("\nJupyterLab is stopped; your notebooks are saved as you left them.", flush=True)
        return FINE
    finally:
        if lab is not None:
            lab.stop()


def _explore(args: argparse.Namespace) -> int:
    path, port = _match_path(args.match), _port(args)
    if args.view is not None:
        from tactical_kit.explorer.view_text import View

        try:  # before the match is read: no file is at fault
            View.from_text(args.view)
        except TacticalKitError as error:
            raise WrongUse(f"--view: {error}") from error
    from tactical_kit.sources import read_match

    with _busy(f"Reading {path.name}"):
        match = read_match(path)
        from tactical_kit.explorer import serve, sheet_beside

    sheet = None if path != Path(args.match) else sheet_beside(path)  # of "demo" in the working folder
    from tactical_kit.lab import wait_until_listening

    _stop_on_signals()
    with _busy("Preparing the explorer"):
        server = serve(match, port, open_browser=False, view=args.view, threaded=True, sheet=sheet)
        wait_until_listening(server.url)
    browser = _screen(args)
    try:
        print(f"{match.home.name} v {match.away.name}: {match.level}" + (f" ({match.label})" if match.label else ""))
        print(f"Your browser opens {server.url}" if browser else f"Open this address in a browser:\n  {server.url}")
        print("The page is served to this machine only. Ctrl-C here ends it.", flush=True)
        if browser:
            webbrowser.open(server.url)
        while server.is_alive():
            server.join(1.0)
    except (KeyboardInterrupt, _Stopped):
        print("\nThe page is closed.", flush=True)
    finally:
        server.stop()
    return FINE


def _check(args: argparse.Namespace) -> int:
    paths = [_there(name) for name in args.files]
    wanted = getattr(args, "mapping", None)
    if wanted and Path(wanted).exists():
        raise WrongUse(f"{wanted} is there already and is not overwritten. Name a new file after --mapping.")
    from tactical_kit.sources import check_files

    tables = [p for p in paths if p.suffix.lower() in TABLE_ENDINGS]
    if wanted and len(tables) != 1:
        raise WrongUse(f"--mapping drafts for one table (.csv, .xlsx, .parquet); {len(tables)} are named.")
    if wanted and Path(wanted).resolve().parent != tables[0].resolve().parent:
        raise WrongUse(f"a mapping lies beside its table; name a file in the folder {str(tables[0].parent)!r}.")
    with _busy("Checking"):
        problems = check_files(paths)
    written = 0
    if wanted and tables[0] in problems.drafts:
        with Path(wanted).open("x", encoding="utf-8") as out:
            out.write(problems.drafts[tables[0]].text)
        written = problems.settle(tables[0])  # what it complained of, that there was no mapping, is mended
    for line in problems.lines():
        print(line)
    for table, draft in problems.drafts.items():
        if wanted and table == tables[0]:
            print(f"Drafted {wanted} from {table.name}. Look at these lines, marked # ? in it, before you trust it:")
        else:
            print(f"A drafted mapping of {table.name} would be unsure of this:")
        for doubt in draft.doubts or ["nothing: every column was clear"]:
            print(f"  - {doubt}")
    if written:
        print(f"Then: tactical-kit check {wanted}")
    errors = problems.errors
    if not errors and len(paths) > written:
        count = len(paths) - written
        print(f"{count} checked: fine." if not problems.warnings else f"{count} checked: can be loaded.")
    return PROBLEMS if errors else FINE


def _convert(args: argparse.Namespace) -> int:
    source, target = _there(args.source), Path(args.target)
    if target.resolve() == source.resolve():
        raise WrongUse(f"{target} is both IN and OUT; name a new folder.")
    from tactical_kit.sources import read_match, write_match

    with _busy(f"Converting {source.name}"):
        match = read_match(source)
        try:
            write_match(match, target, args.to)
        except TacticalKitError as error:  # what was read is fine: the target is not
            raise WrongUse(str(error)) from error
    print(f"Wrote {target}: {match.home.name} v {match.away.name}, {match.level}.")
    return FINE


def _demo(args: argparse.Namespace) -> int:
    from tactical_kit.demo import DEMO_SEED, write_demo

    seed = DEMO_SEED if args.seed is None else args.seed
    with _busy("Simulating two halves") as report:
        try:
            write_demo(args.target, seed, args.rate, progress=report)
        except TacticalKitError as error:  # there is no input that could be at fault
            raise WrongUse(str(error)) from error
    print(f"Wrote {args.target}: an invented match, seed {seed}, tracking at {args.rate} Hz.")
    return FINE


def _match_path(name: str) -> Path:
    """The path of a match; the word "demo" is the demonstration match where no file bears the name."""
    if name == "demo" and not Path(name).exists():
        from tactical_kit.demo import demo_match_path

        return demo_match_path()
    return _there(name)


def _new_file(name: str) -> Path:
    """The path of a file that is to be written; one that is there is not overwritten."""
    path = Path(name)
    if path.exists():
        raise WrongUse(f"{name} is there already and is not overwritten. Name a new file after --csv.")
    if not path.absolute().parent.is_dir():
        raise WrongUse(f"there is no folder {str(path.parent)!r} to write {path.name} into. Make it first.")
    return path


def _width() -> int:
    return shutil.get_terminal_size((110, 24)).columns


def _finders(args: argparse.Namespace) -> int:
    from tactical_kit.claims.listing import about_finder, finders_text
    from tactical_kit.finders import finder_names, get_finder

    if args.match in finder_names() and not Path(args.match).exists():
        raise WrongUse(f"{args.match!r} is a finder, no match; what it measures says: finders --about {args.match!r}")
    path = _match_path(args.match) if args.match else None

    if args.about is not None:
        try:
            about = about_finder(args.about, _width())
        except TacticalKitError as error:
            raise WrongUse(str(error)) from error
    match = None
    if path is not None:
        from tactical_kit.sources import read_match

        with _busy(f"Reading {path.name}"):
            match = read_match(path)
    if args.about is None:
        print(finders_text(match, _width()))
        return FINE
    print(about)
    if match is not None:
        missing = get_finder(args.about).missing(match)
        print(f"\nIt needs {' and '.join(missing)}; this match has {match.level}." if missing else "\nIt can run here.")
    return FINE


def _find(args: argparse.Namespace) -> int:
    path, target = _match_path(args.match), _new_file(args.csv) if args.csv else None
    from tactical_kit.claims import Condition, matching
    from tactical_kit.claims.listing import moments_table, moments_text, threshold_value
    from tactical_kit.finders import get_finder
    from tactical_kit.sources import read_match
    from tactical_kit.sources.tables_out import write_table

    name = " ".join(args.name)
    try:  # before the match is read: no file is at fault
        finder = get_finder(name)
        thresholds = dict(threshold_value(name, setting) for setting in args.settings)
        conditions = [Condition.from_text(text) for text in args.where]
    except TacticalKitError as error:
        raise WrongUse(str(error)) from error
    with _busy(f"Reading {path.name}"):
        match = read_match(path)
    with _busy(f"Searching with {name!r}"):
        try:
            found = finder(match, **thresholds)
        except UnknownNameError as error:  # a word that a threshold does not take
            raise WrongUse(f"--set: {error}") from error
    try:
        notes = [note for condition in conditions for note in condition.notes(found, match)]
        found = matching(found, conditions, match)
    except TacticalKitError as error:
        raise WrongUse(f"--where: {error}") from error
    for note in notes:
        _say(f"--where: {note}")
    if target is None:
        # What goes on to another program stays a table, a moment a line.
        print(moments_text(found, match, _width() if sys.stdout.isatty() or "COLUMNS" in os.environ else None))
    else:
        write_table(moments_table(found, match), target)
        print(f"Wrote {target}: {len(found)} moments of {name!r}." if len(found) != 1 else f"Wrote {target}: 1 moment.")
    return FINE


def _claims(args: argparse.Namespace) -> int:
    sheet_path, target = _there(args.sheet), _new_file(args.csv) if args.csv else None
    given = _match_path(args.match) if args.match else None
    from tactical_kit.claims import read_claim_sheet, run_claim_sheet
    from tactical_kit.sources import read_match
    from tactical_kit.sources.tables_out import write_table

    sheet = read_claim_sheet(sheet_path)
    if args.strict:
        sheet = dataclasses.replace(sheet, strict=True)
    if given is None:
        given = _match_of(sheet)
    with _busy(f"Reading {given.name}"):
        try:
            match = read_match(given)
        except TacticalKitError as error:
            if args.match or sheet.match:
                raise
            raise WrongUse(
                f"{sheet_path.name} names no match, so it is looked for in its folder. Name it with --match, or write "
                f"match = ... before its first claim.\n{error}"
            ) from error
    with _busy("Counting"):
        result = run_claim_sheet(match, sheet)
    print(result.as_text(_width()))
    if target is not None:
        write_table(result.table, target)
        print(f"Wrote {target}.")
    return FINE if result.holds else PROBLEMS


def _story(args: argparse.Namespace) -> int:
    path = _match_path(args.match)
    from tactical_kit.sources import read_match
    from tactical_kit.story import match_story

    with _busy(f"Reading {path.name}"):
        match = read_match(path)
    if args.team is not None:
        try:
            match.team(args.team)
        except UnknownNameError as error:
            raise WrongUse(f"--team: {error}") from error
    with _busy("Looking for everything"):
        story = match_story(match, progress=False)
    if args.team is not None:
        story = story.where(team=args.team)
    print(story.to_text(_width()))
    if args.sheet is not None:
        count = story.add_to_sheet(args.sheet)
        stand = "1 claim stands" if count == 1 else f"{count} claims stand"
        print(f"\n{stand} in {args.sheet}. Check with:")
        print(f"  {shlex.join(['tactical-kit', 'claims', args.sheet, '--match', args.match])}")
    return FINE


def _match_of(sheet: ClaimSheet) -> Path:
    """Where the match of a sheet lies, if --match does not say so."""
    if sheet.match == "demo" or sheet.match_path.exists():
        return _match_path("demo") if sheet.match == "demo" and not sheet.match_path.exists() else sheet.match_path
    raise TacticalKitError(
        f"{sheet.path.name}, key 'match': met {sheet.match!r}; expected the path of a match, seen from the sheet, "
        "or 'demo'. Or name the match with --match."
    )


@contextmanager
def _busy(text: str) -> Iterator[Callable[..., None]]:
    """Show on a terminal, once a second has gone by, that work is going on.

    Gives a function to report the share done and, if there is more to say, what is being done.
    """
    share, words = [0.0], [text]
    if not sys.stderr.isatty():
        yield lambda done, doing="": None
        return
    from tqdm import tqdm

    over = threading.Event()

    def tick() -> None:
        if over.wait(1.0):
            return
        with tqdm(bar_format="{desc}: {elapsed} …", desc=text, leave=False, file=sys.stderr) as bar:
            while not over.wait(0.25):
                bar.set_description_str(f"{words[0]}, {share[0]:.0%}" if share[0] else words[0], refresh=False)
                bar.refresh()

    thread = threading.Thread(target=tick, daemon=True)
    thread.start()

    def report(done: float, doing: str = "") -> None:
        share[0] = done
        if doing:
            words[0] = doing[0].upper() + doing[1:]

    try:
        yield report
    finally:
        over.set()
        thread.join()


if __name__ == "__main__":
    sys.exit(main())
