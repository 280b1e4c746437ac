"""A pytest plugin: a test that is skipped fails, unless why is among the few reasons that hold in CI too.

So nothing that a test needs can be missing unnoticed. What was skipped all the same stands, with why, above
pytest's closing line.
"""

from __future__ import annotations

from collections.abc import Generator
from typing import TypeVar

import pytest

Report = TypeVar("Report", pytest.TestReport, pytest.CollectReport)

ALLOWED = (
    "torch, which only training needs, is not installed",
    "this user may read everything",
)
"""Reasons for which a test may be skipped: CI has no use for hours of training, and it runs as root."""


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    return _gated((yield))


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    return _gated((yield))


def _gated(report: Report) -> Report:
    reason = _reason(report)
    if reason is not None and reason not in ALLOWED:
        report.outcome = "failed"
        report.longrepr = f"skipped, and that is not allowed here: {reason}"
    return report


def _reason(report: pytest.TestReport | pytest.CollectReport) -> str | None:
    """Why something was skipped; None where it was not, or is expected to fail."""
    if report.outcome != "skipped" or hasattr(report, "wasxfail") or not isinstance(report.longrepr, tuple):
        return None
    return report.longrepr[2].removeprefix("Skipped: ")
