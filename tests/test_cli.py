"""The command line: help, exit codes, sentences in place of tracebacks, servers that end when they are told to.

Common practice, no source; exit code 130 is the shells' convention for an interrupted program (128 + SIGINT).
"""

import os
import re
import signal
import socket
import subprocess
import sys
import threading
import urllib.error
import urllib.request
import warnings

import pytest

import tactical_kit
from tactical_kit import cli, demo, lab, starter
from tactical_kit.claims.conditions import FORMS
from tactical_kit.errors import TacticalKitError

COMMANDS = ["open", "explore", "check", "convert", "finders", "find", "claims", "story", "demo"]


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def said(capsys):
    captured = capsys.readouterr()
    return captured.out, captured.err


# -- help and wrong use ------------------------------------------------------------------------------------


def test_version(capsys):
    assert cli.main(["--version"]) == 0
    assert said(capsys) == (f"tactical-kit {tactical_kit.__version__}\n", "")


def test_the_help_names_every_command_and_every_exit_code(capsys):
    assert cli.main(["--help"]) == 0
    out, _ = said(capsys)
    assert [c for c in COMMANDS if not re.search(rf"^    {c}\b", out, re.M)] == []
    assert re.findall(r"^  (\d+) ", out, re.M) == ["0", "1", "2", "3", "130"]


@pytest.mark.parametrize("command", COMMANDS)
def test_each_command_has_help_with_an_example_that_its_own_parser_takes(command, capsys):
    assert cli.main([command, "--help"]) == 0
    out, _ = said(capsys)
    example = re.search(r"^example:\n  tactical-kit (.+)$", out, re.M)[1].split()
    assert example[0] == command
    assert cli._parser().parse_args(example).run is cli._parser().parse_args([command, *example[1:]]).run


@pytest.mark.parametrize(
    ("argv", "sentence"),
    [
        (["explode"], "invalid choice: 'explode' (choose from"),
        (["explore"], "the following arguments are required: MATCH"),
        (["check"], "the following arguments are required: FILE"),
        (["find", "demo"], "the following arguments are required: NAME"),
        (["claims"], "the following arguments are required: SHEET"),
        (["demo", "out", "--rate", "0"], "argument --rate: invalid choice: 0 (choose from 25, 5, 1)"),
        (["demo", "out", "--seed", "one"], "argument --seed: invalid int value: 'one'"),
        (["convert", "a", "b", "--to", "paper"], "argument --to: invalid choice: 'paper'"),
        (["--fold=x"], "unrecognized arguments: --fold=x"),
    ],
)
def test_wrong_use_is_exit_code_2(argv, sentence, capsys):
    assert cli.main(argv) == 2
    out, err = said(capsys)
    assert out == ""
    assert sentence in err


@pytest.mark.parametrize(
    "argv",
    [
        ["explore", "my-mach"], ["check", "my-mach"], ["convert", "my-mach", "out"], ["finders", "my-mach"],
        ["find", "my-mach", "shot"], ["claims", "my-mach"],
    ],
)  # fmt: skip
def test_a_missing_input_is_wrong_use_and_gets_a_near_spelling(argv, here, capsys):
    (here / "my-match").mkdir()
    assert cli.main(argv) == 2
    sentence = "tactical-kit: there is no file or folder 'my-mach' here. Did you mean 'my-match'?\n"
    assert said(capsys) == ("", sentence)
    assert not (here / "out").exists()


def test_a_view_that_cannot_be_read_is_wrong_use_before_the_match_is_read(here, capsys):
    (here / "my-match").mkdir()  # empty: reading it would be another error
    assert cli.main(["explore", "my-match", "--view", "nonsense"]) == 2
    sentence = (
        "tactical-kit: --view: view 'nonsense' cannot be read: 'nonsense': expected key=value with a key of team, phase, "
        "time, against, score, zone, area, pressure, player, threshold.\n"
    )
    assert said(capsys) == ("", sentence)


def test_a_file_where_the_folder_should_be_is_wrong_use(here, capsys):
    (here / "mine").write_text("a letter")
    assert cli.main(["--folder", "mine"]) == 2
    sentence = "tactical-kit: mine is a file, or lies in one; expected a folder, new or old.\n"
    assert said(capsys) == ("", sentence)


def test_converting_a_match_onto_itself_is_refused(here, capsys):
    (here / "my-match").mkdir()
    assert cli.main(["convert", "my-match", "./my-match"]) == 2
    assert said(capsys) == ("", "tactical-kit: my-match is both IN and OUT; name a new folder.\n")


def test_a_seed_below_nothing_is_wrong_use(here, capsys):
    assert cli.main(["demo", "out", "--seed", "-1"]) == 2
    assert said(capsys) == ("", "tactical-kit: seed is -1; expected a whole number from 0 up, such as 7.\n")
    assert list(here.iterdir()) == []


@pytest.mark.parametrize("argv", [["open"], ["explore", "my-match"]])
def test_a_port_that_is_taken_is_wrong_use(argv, here, capsys):
    (here / "my-match").mkdir()
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        assert cli.main([*argv, "--port", str(port)]) == 2
    sentence = f"something listens on port {port} already; name another --port, or none for any free one."
    assert said(capsys) == ("", f"tactical-kit: {sentence}\n")
    assert [p.name for p in here.iterdir()] == ["my-match"]
    assert cli.main([*argv, "--port", "70000"]) == 2
    assert said(capsys) == ("", "tactical-kit: --port is 70000; expected 1 to 65535.\n")


# -- errors become sentences -----------------------------------------------------------------------------


def fail_with(error):
    def run(args):
        raise error

    return run


@pytest.mark.parametrize(
    ("error", "code", "sentence"),
    [
        (TacticalKitError("Team 'x' plays elsewhere."), 1, "Team 'x' plays elsewhere."),
        (cli.WrongUse("no such thing."), 2, "no such thing."),
        (PermissionError(13, "Permission denied", "a.csv"), 2, "a.csv: Permission denied."),
        (KeyboardInterrupt(), 130, "Interrupted."),
        (
            RuntimeError("a screw is loose"),
            3,
            "The kit failed where it should not (RuntimeError: a screw is loose). "
            "Run it again with --debug to see where, and please report it.",
        ),
    ],
)
def test_an_error_is_a_sentence_and_an_exit_code(error, code, sentence, monkeypatch, here, capsys):
    monkeypatch.setattr(cli, "_demo", fail_with(error))
    assert cli.main(["demo", "out"]) == code
    assert said(capsys) == ("", f"tactical-kit: {sentence}\n")


@pytest.mark.parametrize("argv", [["--debug", "demo", "out"], ["demo", "out", "--debug"]])
def test_debug_shows_the_traceback_too(argv, monkeypatch, here, capsys):
    monkeypatch.setattr(cli, "_demo", fail_with(RuntimeError("a screw is loose")))
    assert cli.main(argv) == 3
    _, err = said(capsys)
    assert err.startswith("Traceback (most recent call last):")
    assert err.endswith("tactical-kit: The kit failed where it should not (RuntimeError: a screw is loose).\n")


def test_a_warning_is_a_sentence_without_its_place_in_the_code(monkeypatch, here, capsys):
    def run(args):
        warnings.warn("the clock of row 7 was mended.", UserWarning, stacklevel=1)
        return 0

    monkeypatch.setattr(cli, "_demo", run)
    assert cli.main(["demo", "out"]) == 0
    assert said(capsys) == ("", "tactical-kit: the clock of row 7 was mended.\n")


# -- a screen or none ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("environ", "platform", "expected"),
    [
        ({}, "linux", False),
        ({"DISPLAY": ":0"}, "linux", True),
        ({"WAYLAND_DISPLAY": "wayland-0"}, "linux", True),
        ({}, "darwin", True),
        ({}, "win32", True),
        ({"SSH_CONNECTION": "1 2 3 4"}, "darwin", False),
        ({"SSH_TTY": "/dev/pts/0"}, "linux", False),
        ({"SSH_CONNECTION": "1 2 3 4", "DISPLAY": "localhost:10"}, "linux", True),
    ],
)
def test_whether_there_is_a_screen(environ, platform, expected, monkeypatch):
    monkeypatch.setattr(lab.webbrowser, "get", lambda: "a browser")
    assert lab.has_screen(environ, platform) is expected


def test_where_python_knows_no_browser_there_is_no_screen(monkeypatch):
    def none():
        raise lab.webbrowser.Error("could not locate runnable browser")

    monkeypatch.setattr(lab.webbrowser, "get", none)
    assert lab.has_screen({"DISPLAY": ":0"}, "linux") is False


# -- the work itself -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def demo_folder():
    return str(demo.demo_match_path())


def test_check_of_a_good_match(demo_folder, capsys):
    assert cli.main(["check", demo_folder]) == 0
    out, err = said(capsys)
    assert (out.splitlines()[-1], err) == ("1 checked: fine.", "")


def test_check_reports_every_problem_of_every_file(here, capsys):
    (here / "a").mkdir()
    (here / "a" / "match.json").write_text("{", encoding="utf-8")
    (here / "b.toml").write_text("not = [toml", encoding="utf-8")
    assert cli.main(["check", "a", "b.toml"]) == 1
    out, err = said(capsys)
    first, second = out.splitlines()
    assert first.startswith("a: met a folder of something else; expected ")
    assert second.startswith("b.toml, row 1: met invalid value; expected a TOML file.")
    assert err == ""


TABLE = "minute,team,event,x,y\n1,Reds,pass,50,40\n2,Blues,pass,20,10\n"


DOUBTS = """\
  - There is a column of minutes and none of seconds: times are good to the minute only; if there is one, name it under \
[events.columns] and write form = "minute and second".
  - Which side is at home is not in the table: 'Blues' was taken for the home side.
  - The size of the pitch is not in the table; 105 x 68 m was taken.
  - Only one period was seen: whether the clock starts anew at half-time cannot be told.
  - How long each period lasted is not in the table: the last row was taken.
"""


def test_check_drafts_a_mapping_and_never_over_a_file(here, capsys):
    (here / "log.csv").write_text(TABLE, encoding="utf-8")
    assert cli.main(["check", "log.csv", "--mapping", "log.toml"]) == 0  # what was asked for is done
    out, err = said(capsys)
    assert out.startswith(
        "Drafted log.toml from log.csv. Look at these lines, marked # ? in it, before you trust it:\n" + DOUBTS
    )
    assert out.endswith("\nThen: tactical-kit check log.toml\n")
    assert err == ""
    first = (here / "log.toml").read_text(encoding="utf-8")
    assert "log.csv" in first
    assert cli.main(["check", "log.csv", "--mapping", "log.toml"]) == 2
    assert said(capsys) == (
        "",
        "tactical-kit: log.toml is there already and is not overwritten. Name a new file after --mapping.\n",
    )
    assert (here / "log.toml").read_text(encoding="utf-8") == first


def test_check_of_a_bare_table_prints_the_doubts_of_a_draft(here, capsys):
    (here / "log.csv").write_text(TABLE, encoding="utf-8")
    assert cli.main(["check", "log.csv"]) == 1  # as it is, the table cannot be loaded
    out, err = said(capsys)
    first, second, rest = out.split("\n", 2)
    assert re.fullmatch(
        r"log\.csv: met a table without a mapping; expected a mapping \(\.toml\) that says how to read it\. One can be "
        r"drafted, unsure of \d things: `tactical-kit check log\.csv --mapping log\.toml` saves it; answer the question "
        r"marks, then check the mapping\.",
        first,
    )
    assert second == "A drafted mapping of log.csv would be unsure of this:"
    assert rest.startswith(DOUBTS)
    assert err == ""
    assert [p.name for p in here.iterdir()] == ["log.csv"]


def test_a_draft_for_one_table_does_not_hide_faults_of_another_file(here, capsys):
    (here / "log.csv").write_text(TABLE, encoding="utf-8")
    (here / "b.toml").write_text("not = [toml", encoding="utf-8")
    assert cli.main(["check", "log.csv", "b.toml", "--mapping", "log.toml"]) == 1
    out, _ = said(capsys)
    assert out.startswith("b.toml, row 1: met invalid value; expected a TOML file.")
    assert (here / "log.toml").exists()


def test_a_table_that_cannot_be_read_gets_no_draft(here, capsys):
    (here / "log.csv").write_text("", encoding="utf-8")
    assert cli.main(["check", "log.csv", "--mapping", "log.toml"]) == 1
    sentence = "log.csv: met an empty file; expected a header and rows. Check that the export is whole.\n"
    assert said(capsys) == (sentence, "")
    assert not (here / "log.toml").exists()


def test_a_mapping_away_from_its_table_is_wrong_use(here, capsys):
    (here / "log.csv").write_text(TABLE, encoding="utf-8")
    (here / "maps").mkdir()
    assert cli.main(["check", "log.csv", "--mapping", "maps/log.toml"]) == 2
    assert said(capsys) == ("", "tactical-kit: a mapping lies beside its table; name a file in the folder '.'.\n")


def test_demo_writes_a_match_that_check_finds_fine(here, capsys):
    assert cli.main(["demo", "made", "--seed", "3", "--rate", "1"]) == 0
    assert said(capsys) == ("Wrote made: an invented match, seed 3, tracking at 1 Hz.\n", "")
    assert cli.main(["check", "made"]) == 0
    assert tactical_kit.read_match("made").label == "invented demonstration data"


def test_convert_there_and_back(demo_folder, here, capsys):
    assert cli.main(["convert", demo_folder, "copy"]) == 0
    out, err = said(capsys)
    assert re.fullmatch(r"Wrote copy: .+ v .+, events and tracking\.\n", out)
    assert err == ""
    assert tactical_kit.read_match("copy").events.equals(tactical_kit.demo_match().events)


def test_convert_onto_something_else_is_refused(demo_folder, here, capsys):
    (here / "taken").mkdir()
    (here / "taken" / "letter.txt").write_text("mine")
    assert cli.main(["convert", demo_folder, "taken"]) == 2
    _, err = said(capsys)
    assert "taken is not overwritten" in err
    assert [p.name for p in (here / "taken").iterdir()] == ["letter.txt"]


# -- finders and claims ----------------------------------------------------------------------------------


def test_finders_are_listed_for_a_match_or_none(demo_folder, capsys):
    assert cli.main(["finders"]) == 0
    alone, err = said(capsys)
    assert err == "" and re.search(r"^shot +needs events\n    A shot at goal", alone, re.M)
    assert "can run on a match" not in alone
    assert cli.main(["finders", demo_folder]) == 0
    assert re.search(r"\n(\d+) of \1 finders can run on a match with events and tracking\.\n$", said(capsys)[0])


def test_all_about_one_finder(capsys):
    assert cli.main(["finders", "--about", "shot"]) == 0
    out, err = said(capsys)
    assert out.startswith("shot\nA shot at goal, with the seconds before it in which it was prepared.\n") and err == ""
    assert re.search(r"^  before_s +8\.0 +The moment begins this long before the shot", out, re.M)
    assert cli.main(["finders", "demo", "--about", "shot"]) == 0
    assert said(capsys)[0].endswith("\nIt can run here.\n")


def test_moments_are_found_and_listed(demo_folder, capsys):
    assert cli.main(["find", demo_folder, "shot", "--set", "before_s=5", "--where", "outcome is goal"]) == 0
    out, err = said(capsys)
    lines = out.splitlines()
    assert (lines[0].split()[:5], err) == (["moment_id", "clock", "until", "team", "players"], "")
    assert re.fullmatch(r"\d+ moments of 'shot'\.", lines[-1])
    assert len(lines) == int(lines[-1].split()[0]) + 3
    assert cli.main(["find", "demo", "shot"]) == 0  # the demonstration match by its word
    assert said(capsys)[0].splitlines()[0].split()[0] == "moment_id"


def test_moments_are_written_and_a_formula_is_made_harmless(here, capsys):
    match = tactical_kit.demo_match()
    players = tuple(
        tactical_kit.Player(p.player_id, "=1+1", p.team_id, p.shirt, p.position, p.starter) for p in match.home.players
    )
    home = tactical_kit.Team(match.home.team_id, match.home.name, "@home", players)
    tactical_kit.write_match_folder(match.with_data(home=home, tracking=None), "risky")
    assert cli.main(["find", "risky", "shot", "--csv", "shots.csv"]) == 0
    out, err = said(capsys)
    assert re.fullmatch(r"Wrote shots\.csv: \d+ moments of 'shot'\.\n", out) and err == ""
    text = (here / "shots.csv").read_text(encoding="utf-8")
    assert ",'@home,'=1+1," in text and ",=1+1" not in text and ",@home" not in text
    before = (here / "shots.csv").read_bytes()
    assert cli.main(["find", "risky", "shot", "--csv", "shots.csv"]) == 2
    sentence = "shots.csv is there already and is not overwritten. Name a new file after --csv."
    assert said(capsys) == ("", f"tactical-kit: {sentence}\n")
    assert (here / "shots.csv").read_bytes() == before


@pytest.mark.parametrize(
    ("argv", "sentence"),
    [
        (["--set", "before_s=far"], "before_s is 'far'; expected a number, as its default 8.0."),
        (["--set", "before_s"], "'before_s' sets nothing; expected threshold=value, as before_s=5."),
        (
            ["--set", "befor_s=1"],
            "a threshold of finder 'shot' is 'befor_s'; expected one of 'before_s', 'after_s', 'shoot_out'. Did you mean 'before_s'?",
        ),
        (["--where", "outcome is"], "the condition 'outcome is' cannot be read; expected " + FORMS + "."),
        (["--where", "outcome more than 3"], "--where: outcome holds words, not numbers; it cannot be 'more than'."),
        (["--csv", "no/where.csv"], "there is no folder 'no' to write where.csv into. Make it first."),
    ],
)
def test_find_used_wrongly(argv, sentence, demo_folder, here, capsys):
    assert cli.main(["find", demo_folder, "shot", *argv]) == 2
    assert said(capsys) == ("", f"tactical-kit: {sentence}\n")
    assert list(here.iterdir()) == []


def test_a_word_that_a_threshold_does_not_take_is_wrong_use(demo_folder, capsys):
    assert cli.main(["find", demo_folder, "possession", "--set", "source=evnts"]) == 2
    sentence = (
        "--set: source is 'evnts'; expected one of 'auto', 'events', 'owner', 'positions'. Did you mean 'events'?"
    )
    assert said(capsys) == ("", f"tactical-kit: {sentence}\n")


def test_a_finder_that_the_match_cannot_feed_is_exit_code_1(here, capsys):
    tactical_kit.write_match_folder(tactical_kit.demo_match().with_data(tracking=None), "poor")
    assert cli.main(["find", "poor", "between", "the", "lines"]) == 1
    out, err = said(capsys)
    assert out == ""
    assert err.startswith("tactical-kit: Finder 'between the lines' needs tracking or stills; this match has events.")


@pytest.mark.parametrize("argv", [["find", "demo", "shott"], ["finders", "--about", "shott"]])
def test_an_unknown_finder_is_wrong_use(argv, capsys):
    assert cli.main(argv) == 2
    out, err = said(capsys)
    assert out == ""
    assert re.fullmatch(r"tactical-kit: finder is 'shott'; expected one of .* Did you mean 'shot'\?\n", err)


SHEET = """\
[[claim]]
text = "Shots seldom go in"
finder = "shot"
where = ["outcome is goal"]
"""


def test_the_claims_of_a_sheet_beside_the_match(demo_folder, here, capsys):
    (here / "claims.toml").write_text(f'match = "{demo_folder}"\n' + SHEET, encoding="utf-8")
    assert cli.main(["claims", "claims.toml"]) == 0
    out, err = said(capsys)
    assert "  1  holds  Shots seldom go in" in out and err == ""
    assert out.endswith(
        "1 of 1 claim holds on Brinmar Lanterns v Ostrevale Rovers of the Marsh (invented demonstration data).\n"
    )
    assert cli.main(["claims", "claims.toml", "--strict", "--csv", "table.csv"]) == 1
    out, err = said(capsys)
    assert "  1  FALLS  Shots seldom go in" in out and out.endswith("Wrote table.csv.\n") and err == ""
    assert (
        (here / "table.csv")
        .read_text(encoding="utf-8")
        .startswith("number,claim,numbers,verdict,holds,sentence\n1,Shots")
    )


def test_a_claim_that_does_not_hold_is_exit_code_1(here, capsys):
    (here / "claims.toml").write_text(SHEET.replace("seldom", "usually"), encoding="utf-8")
    assert cli.main(["claims", "claims.toml", "--match", "demo"]) == 1
    out, err = said(capsys)
    assert "claim 1: Shots usually go in: " in out and "counterexamples: " in out and err == ""


def test_faults_of_a_sheet_are_exit_code_1_and_come_together(here, capsys):
    (here / "claims.toml").write_text(
        SHEET.replace("shot", "shott").replace("goal", "gaol") + "wrd = 1\n", encoding="utf-8"
    )
    assert cli.main(["claims", "claims.toml", "--match", "demo"]) == 1
    out, err = said(capsys)
    assert out == ""
    assert err.startswith(
        "tactical-kit: 1 fault; no claim was checked.\nclaims.toml, claim 1 (“Shots seldom go in”), key 'wrd': "
    )


def test_a_sheet_whose_match_is_not_there(here, capsys):
    (here / "claims.toml").write_text('match = "gone"\n' + SHEET, encoding="utf-8")
    assert cli.main(["claims", "claims.toml"]) == 1
    sentence = (
        "claims.toml, key 'match': met 'gone'; expected the path of a match, seen from the sheet, or 'demo'. Or name the "
        "match with --match."
    )
    assert said(capsys) == ("", f"tactical-kit: {sentence}\n")


# -- servers ---------------------------------------------------------------------------------------------


class Running:
    """`tactical-kit` in a process of its own, and the address it prints."""

    def __init__(self, folder, *argv):
        home = folder / "home"
        home.mkdir(exist_ok=True)
        environ = {**os.environ, "HOME": str(home), "JUPYTER_RUNTIME_DIR": str(home / "run")}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tactical_kit.cli", *argv], cwd=folder, env=environ, text=True,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )  # fmt: skip
        watchdog = threading.Timer(90, self.process.kill)
        watchdog.start()
        self.lines = []
        for line in self.process.stdout:
            self.lines.append(line.rstrip("\n"))
            if "Ctrl-C here ends it." in line:
                break
        watchdog.cancel()
        assert self.process.poll() is None, self.process.stderr.read()
        self.url = next(line.strip() for line in self.lines if "http://127.0.0.1:" in line)
        self.port = int(re.search(r":(\d+)/", self.url)[1])

    def end(self, how):
        self.process.send_signal(how)
        out, err = self.process.communicate(timeout=30)
        return self.process.returncode, out.strip(), err

    def listens(self):
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_open_without_a_screen_prints_the_address_and_leaves_no_server(how, tmp_path):
    running = Running(tmp_path, "--no-browser", "--folder", "mine")
    try:
        assert running.lines[0].startswith("Laid ")
        assert running.lines[1] == "Open this address in a browser:"
        assert f"/lab/tree/{starter.FIRST_NOTEBOOK}?token=" in running.url
        assert urllib.request.urlopen(running.url, timeout=30).status == 200
        with pytest.raises(urllib.error.HTTPError, match=r"^HTTP Error 403: Forbidden$"):
            urllib.request.urlopen(f"http://127.0.0.1:{running.port}/api/contents", timeout=30)
        code, out, err = running.end(how)
    finally:
        running.process.kill()
    assert (code, out, err) == (0, "JupyterLab is stopped; your notebooks are saved as you left them.", "")
    assert not running.listens()


def test_explore_serves_one_page_to_this_machine(demo_folder, tmp_path):
    running = Running(tmp_path, "explore", demo_folder, "--no-browser")
    try:
        assert running.lines[0].endswith("(invented demonstration data)")
        page = urllib.request.urlopen(running.url, timeout=60)
        assert page.status == 200
        code, out, err = running.end(signal.SIGINT)
    finally:
        running.process.kill()
    assert (code, out) == (0, "The page is closed.")
    assert "Traceback" not in err
    assert not running.listens()


def test_explore_knows_the_demonstration_match_by_its_word(here, monkeypatch, capsys):
    asked = []

    def serve(match, port, **options):
        asked.append((match.label, options["sheet"]))
        raise TacticalKitError("far enough.")

    monkeypatch.setattr("tactical_kit.explorer.serve", serve)
    assert cli.main(["explore", "demo", "--no-browser"]) != 0
    assert asked == [("invented demonstration data", None)]  # its claims go to the working folder, not into the kit
    assert "far enough." in said(capsys)[1]


def test_only_the_kits_own_notebook_runs_by_itself(here, monkeypatch, capsys):
    asked = []

    def start(folder, notebook, **options):
        asked.append((notebook, options["run"]))
        raise TacticalKitError("far enough.")

    monkeypatch.setattr(lab, "start_lab", start)
    assert cli.main(["--folder", "mine", "--no-browser"]) == 3
    with (here / "mine" / starter.FIRST_NOTEBOOK).open("a") as notebook:
        notebook.write(" ")  # somebody else's by now: it may hold anything
    assert cli.main(["--folder", "mine", "--no-browser"]) == 3
    assert asked == [(starter.FIRST_NOTEBOOK, True), (starter.FIRST_NOTEBOOK, False)]
    assert f"Kept your own version of {starter.FIRST_NOTEBOOK}" in said(capsys)[0]


def test_the_key_to_the_server_is_in_no_process_list(tmp_path, monkeypatch):
    seen = {}

    class Refused(Exception):
        pass

    def start(command, **options):
        seen.update(command=command, env=options["env"])
        raise Refused

    monkeypatch.setattr(lab.subprocess, "Popen", start)
    with pytest.raises(Refused):
        lab.start_lab(tmp_path, "a.ipynb")
    assert "--ServerApp.ip=127.0.0.1" in seen["command"]
    assert not any("token" in part.lower() for part in seen["command"])
    assert not any("tacticalKitRun" in part for part in seen["command"])


def test_a_server_that_ends_at_once_says_why(tmp_path):
    with pytest.raises(TacticalKitError, match=r"^JupyterLab did not start\. Its last lines were:\n  (.|\n)+"):
        lab.start_lab(tmp_path / "nowhere", "a.ipynb")


# -- story -------------------------------------------------------------------------------------------------


def test_a_story_is_told_and_laid_on_a_claim_sheet(demo_folder, here, capsys):
    assert cli.main(["story", str(demo_folder), "--team", "home", "--sheet", "claims.toml"]) == 0
    out, _ = said(capsys)
    assert out.splitlines()[0].endswith("(invented demonstration data): a first outline")
    added = int(re.search(r"^(\d+) claims stand in claims\.toml\. Check with:$", out, re.M)[1])
    assert added == (here / "claims.toml").read_text(encoding="utf-8").count("\n[[claim]]\n") > 5
    assert max(map(len, out.splitlines()[:-1])) <= 110  # the command below it stays on one line


def test_a_story_of_a_side_that_does_not_play_is_wrong_use(demo_folder, capsys):
    assert cli.main(["story", str(demo_folder), "--team", "Nobody"]) == 2
    out, err = said(capsys)
    assert out == "" and err.startswith("tactical-kit: --team: team 'Nobody' does not play in this match; expected ")


@pytest.mark.parametrize("columns", ["80", "120"])
def test_what_is_said_of_moments_and_claims_fits_the_terminal(demo_folder, here, capsys, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", columns)
    assert cli.main(["find", str(demo_folder), "box", "occupation"]) == 0
    out, _ = said(capsys)
    assert max(map(len, out.splitlines())) <= int(columns)
    assert "box occupation-001  01:50 to 01:52  Ostrevale\n    players " in out and "n_for 3, n_against 3" in out
    (here / "claims.toml").write_text(
        '[[claim]]\ntext = "They usually lost it"\nfinder = "possession"\nwhere = ["outcome is lost"]\n', "utf-8"
    )
    assert cli.main(["claims", "claims.toml", "--match", str(demo_folder)]) == 1
    out, _ = said(capsys)
    assert max(map(len, out.splitlines())) <= int(columns)


def test_moments_for_another_program_stay_one_a_line(demo_folder, capsys, monkeypatch):
    monkeypatch.delenv("COLUMNS", raising=False)
    assert cli.main(["find", str(demo_folder), "box", "occupation"]) == 0
    out, _ = said(capsys)
    assert out.splitlines()[0].split()[:3] == ["moment_id", "clock", "until"]


def test_a_word_that_no_moment_has_is_remarked(demo_folder, capsys):
    assert cli.main(["find", str(demo_folder), "shot", "--where", "outcome is Goal"]) == 0
    out, err = said(capsys)
    assert out == "0 moments of 'shot'.\n"
    assert err.startswith("tactical-kit: --where: 'Goal' is in no moment of outcome, which has 'blocked', ")
    assert err.endswith("Did you mean 'goal'?\n")


def test_a_finder_in_the_place_of_a_match_is_told(here, capsys):
    assert cli.main(["finders", "third man"]) == 2
    assert said(capsys)[1] == (
        "tactical-kit: 'third man' is a finder, no match; what it measures says: finders --about 'third man'\n"
    )


def test_a_sheet_beside_no_match_says_how_to_name_one(here, capsys):
    (here / "claims.toml").write_text(
        '[[claim]]\ntext = "They usually lost it"\nfinder = "possession"\nwhere = ["outcome is lost"]\n', "utf-8"
    )
    assert cli.main(["claims", "claims.toml"]) == 2
    assert said(capsys)[1].startswith(
        "tactical-kit: claims.toml names no match, so it is looked for in its folder. Name it with --match, or write "
        "match = ... before its first claim.\n"
    )
