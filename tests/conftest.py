"""What every test shares: where the package under test lies, and no silent skip where CI=true."""

import os
from pathlib import Path

import pytest

import tactical_kit

NOTHING_SKIPPED = os.environ.get("CI", "").lower() == "true"


def pytest_report_header():
    return f"tactical_kit {tactical_kit.__version__} from {Path(tactical_kit.__file__).parent}"


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session, exitstatus):
    """A skipped test is a missing tool; on CI that is a failure, with the reasons in the short summary."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if NOTHING_SKIPPED and reporter is not None and reporter.stats.get("skipped") and exitstatus == 0:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter):
    skipped = terminalreporter.stats.get("skipped", [])
    if NOTHING_SKIPPED and skipped:
        terminalreporter.write_sep("=", "CI=true: nothing may be skipped", red=True)
        for report in skipped:
            terminalreporter.write_line(f"{report.nodeid}: {report.longrepr[-1] if report.longrepr else ''}")
