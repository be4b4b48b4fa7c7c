"""Coverage-guided fuzzing of scan, chart, check and mend.

``pip install -e '.[fuzz]'``, then ``python tests/bench/fuzz_atheris.py CORPUS -max_len=8192
-timeout=10 -rss_limit_mb=3000 -runs=6000``; CORPUS is a folder that may begin as a copy of
``samples/*.mid``; what finds new paths is added to it, so that the next start goes on from there.
The fuzzer itself grows by a MB in some twenty runs, hence the limits. Whatever ends in anything but
a report or a typed error, or is not mended for good, stops the run and is kept as a file.
"""

from __future__ import annotations

import importlib
import pkgutil
import sys

import atheris

with atheris.instrument_imports(include=["basslint"]):
    import basslint

    for module in pkgutil.walk_packages(basslint.__path__, "basslint."):  # most come in late
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    from basslint.checking.book import book_for
    from basslint.checking.one_file import check_bytes
    from basslint.judging.results import FileReport
    from basslint.mending.account import Choice
    from basslint.mending.mend import mend
    from basslint.mending.turns import NOT_REACHED
    from basslint.report.formats.json_chart import chart_json
    from basslint.report.formats.json_report import report_json

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
    choice = Choice(by_ear=True)
    result = mend(data, judged, choice)
    assert result.after.problem is None and not result.after.faults, result.after
    if not any(left.why == NOT_REACHED for left in result.left):
        assert mend(result.data, judged, choice).data == result.data, "mended again"


if __name__ == "__main__":
    atheris.Setup(sys.argv, one)
    atheris.Fuzz()
