"""Writes the golden files of the reports anew: ``python tests/golden/rebuild.py``.

Read the difference before it is committed: these files are what people see.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent))

from report_book import book  # noqa: E402
from report_cases import (  # noqa: E402  # the folder must be known first
    bend_song,
    full_report,
    overlap_song,
    roll_song,
)

from basslint.judging.results import FileReport, Report  # noqa: E402
from basslint.report.formats.chart_text import print_chart  # noqa: E402
from basslint.report.formats.json_chart import chart_json  # noqa: E402
from basslint.report.formats.json_report import report_json  # noqa: E402
from basslint.report.formats.junit import report_junit  # noqa: E402
from basslint.report.formats.markdown import report_markdown  # noqa: E402
from basslint.report.formats.sarif import report_sarif  # noqa: E402
from basslint.report.formats.text import print_report  # noqa: E402


def every_strip() -> Report:
    """The full report with a file for each sort of strip."""
    files = [
        FileReport(path=f"beats/{name}.mid", chart=chart, findings=(found,))
        for name, (chart, found) in (
            ("roll", roll_song()),
            ("overlap", overlap_song()),
            ("bend", bend_song()),
        )
    ]
    report = full_report()
    return Report((*report.files, *files), report.remarks)


def _written(show: Callable[[io.TextIOWrapper], None], encoding: str = "utf-8") -> str:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding, newline="\n")
    show(stream)
    stream.flush()
    return raw.getvalue().decode(encoding)


OUTPUTS: dict[str, Callable[[], str]] = {
    "report.txt": lambda: _written(lambda s: print_report(every_strip(), s)),
    "report-40.txt": lambda: _written(lambda s: print_report(every_strip(), s, width=40)),
    "report-ascii.txt": lambda: _written(lambda s: print_report(every_strip(), s), "ascii"),
    "report.json": lambda: report_json(full_report()).replace(_version(), "VERSION"),
    "report.sarif": lambda: report_sarif(full_report(), book()).replace(_version(), "VERSION"),
    "report.xml": lambda: report_junit(full_report(), book()),
    "report.md": lambda: report_markdown(full_report(), book()),
    "chart.txt": lambda: _written(lambda s: print_chart(overlap_song()[0], s)),
    "chart.json": lambda: chart_json(roll_song()[0]),
}


def _version() -> str:
    from basslint import __version__

    return __version__


if __name__ == "__main__":
    for name, build in OUTPUTS.items():
        (HERE / name).write_text(build(), encoding="utf-8", newline="\n")
        print(name)
