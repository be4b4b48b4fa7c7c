"""Coverage-guided fuzzing of scan, chart, check and mend.

``pip install basslint[fuzz]``, then ``python tests/bench/fuzz_atheris.py CORPUS -max_len=8192
-timeout=5 -rss_limit_mb=900``; CORPUS is a folder that may begin as a copy of ``samples/*.mid``.
Whatever ends in anything but a report or a typed error stops the run and is kept as a file.
"""

from __future__ import annotations

import sys

import atheris

with atheris.instrument_imports(include=["basslint"]):
    import basslint
    from basslint import mending
    from basslint.api import book_for, check_bytes
    from basslint.findings import FileReport
    from basslint.report.json_report import chart_json, report_json

SETTINGS = basslint.Settings()
RULES = SETTINGS.choose(book_for(SETTINGS))


def judged(data: bytes) -> FileReport:
    return check_bytes(data, "song.mid", SETTINGS, RULES)


def one(data: bytes) -> None:
    """Put one input through everything that reads a file."""
    report = judged(data)
    assert not report.faults, report.faults
    report_json(basslint.Report((report,)))
    if report.chart is None:
        assert report.problem is not None
        return
    chart_json(report.chart)
    try:
        result = mending.mend(data, judged, mending.Choice(by_ear=True))
    except basslint.BasslintError:
        return
    assert result.after.problem is None, result.after.problem


if __name__ == "__main__":
    atheris.Setup(sys.argv, one)
    atheris.Fuzz()
