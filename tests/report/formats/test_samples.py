"""Every format on every sample, through the real ear and the real book."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from sarif_kit.validate import validation_errors

from basslint.checking.book import book_for
from basslint.checking.one_file import check_file
from basslint.judging.results import Report
from basslint.report.formats.chart_text import print_chart
from basslint.report.formats.json_chart import chart_json
from basslint.report.formats.json_report import report_json
from basslint.report.formats.json_values import schema
from basslint.report.formats.sarif import report_sarif
from basslint.report.formats.text import print_report
from basslint.settings.model import Settings

SAMPLES = sorted((Path(__file__).parents[3] / "samples").glob("*.mid"))
BOOK = book_for(Settings())


@pytest.fixture(scope="module", params=SAMPLES, ids=lambda p: p.stem)
def file(request):
    return check_file(request.param, Settings(), BOOK)


def test_there_are_samples():
    assert len(SAMPLES) >= 8


def test_json_keeps_to_its_schemas(file):
    Draft202012Validator(schema("chart")).validate(json.loads(chart_json(file.chart)))
    Draft202012Validator(schema("report")).validate(json.loads(report_json(Report((file,)))))


def test_sarif_keeps_to_its_schema(file):
    assert validation_errors(json.loads(report_sarif(Report((file,)), BOOK))) == []


@pytest.mark.parametrize("width", [80, 40])
def test_no_line_of_a_text_is_wider_than_it_may_be(file, width):
    stream = io.StringIO()
    print_report(Report((file,)), stream, width=width)
    print_chart(file.chart, stream, width=width)
    lines = [x for x in stream.getvalue().splitlines() if x != file.path]
    assert max(map(len, lines)) <= width


def test_every_finding_on_a_note_is_drawn_where_it_stands(file):
    stream = io.StringIO()
    print_report(Report((file,)), stream)
    on_notes = {f.cause for f in file.findings if f.pitch is not None}
    assert stream.getvalue().count("\n       beat ") + stream.getvalue().count(
        "\n         beat "
    ) == len(on_notes)
