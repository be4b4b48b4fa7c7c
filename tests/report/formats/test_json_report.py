"""The JSON formats against their schemas, and their counting against the contract's words."""

from __future__ import annotations

import json
from copy import deepcopy
from dataclasses import replace

import numpy as np
import pytest
from jsonschema import Draft202012Validator, ValidationError
from report_cases import (
    BAR,
    BASS,
    CHANNEL_BASS,
    DIVISION,
    FS1,
    chart_of,
    full_report,
    midi_bytes,
    overlap_song,
    plain_line,
    roll_song,
    wrong_note_song,
)

from basslint.fixes.edits import Edit, Fix
from basslint.hear.facts import Facts, StatedKey
from basslint.judging.results import FileReport, Report
from basslint.report.formats.json_chart import chart_json
from basslint.report.formats.json_report import edit_object, report_json
from basslint.report.formats.json_values import schema


def validator(name):
    Draft202012Validator.check_schema(schema(name))
    return Draft202012Validator(schema(name))


def strictly(text):
    def refuse(word):
        raise AssertionError(f"{word} is no JSON")

    return json.loads(text, parse_constant=refuse)


def report():
    return strictly(report_json(full_report()))


def test_reports_and_charts_keep_to_their_schemas():
    validator("report").validate(report())
    for chart, found in (overlap_song(), roll_song()):
        validator("chart").validate(strictly(chart_json(chart)))
        whole = Report((FileReport(path=chart.path, chart=chart, findings=(found,)),))
        validator("report").validate(strictly(report_json(whole)))
    empty = chart_of(midi_bytes([], 1), bass=())
    validator("chart").validate(strictly(chart_json(empty)))


def test_the_report_s_schema_holds_the_chart_s():
    chart = schema("chart")
    for word in ("$schema", "title"):
        chart.pop(word)
    assert schema("report")["$defs"]["chart"] == chart


def objects(value, path="$"):
    if isinstance(value, dict):
        yield path, value
        for key, inside in value.items():
            yield from objects(inside, f"{path}.{key}")
    elif isinstance(value, list):
        for inside in value[:1]:
            yield from objects(inside, f"{path}[0]")


@pytest.mark.parametrize("path", [p for p, _ in objects(report())])
def test_no_object_may_hold_a_key_that_the_schema_does_not_know(path):
    spoiled = deepcopy(report())
    at = dict(objects(spoiled))[path]
    if path.endswith("readings"):
        at["surprise"] = [1]  # readings are named by rules; their values are plain
    else:
        at["surprise"] = 1
    with pytest.raises(ValidationError):
        validator("report").validate(spoiled)


# The words of the contract, in its order.
CONTRACT = {
    "$.files[0].findings[0].where": "tick end_tick bar beat time_s end_time_s",
    "$.files[0].chart": "schema path ticks_per_quarter bars duration_s tempo meter parts bass "
    "harmony keys roots phrases pattern slides fills",
    "$.files[0].chart.parts[0]": "number track channel name program role certainty stated notes "
    "lowest highest",
    "$.files[0].chart.keys[0]": "start_tick end_tick tonic tonic_pc mode scale_pcs certainty "
    "stated source",
    "$.files[0].chart.roots[0]": "start_tick end_tick root root_pc quality certainty source",
    "$.files[0].chart.phrases[0]": "start_bar end_bar label why",
    "$.files[0].chart.pattern[0]": "start_bar end_bar kind",
    "$.files[0].unjudged[0]": "rule start_bar end_bar reason",
    "$.summary": "files unreadable error warning note waived",
}


@pytest.mark.parametrize(("path", "words"), CONTRACT.items())
def test_names_and_their_order_are_the_contract_s(path, words):
    assert list(dict(objects(report()))[path]) == words.split()


def test_a_finding_is_told_as_in_the_contract():
    found = report()["files"][0]["findings"][1]
    assert list(found) == [
        "rule", "level", "message", "part", "where", "readings", "certainty", "fix", "waived",
        "fingerprint",
    ]  # fmt: skip
    assert found["part"] == {"track": BASS, "channel": CHANNEL_BASS, "name": "Sub"}
    assert found["where"] == {
        "tick": 7680, "end_tick": 8640, "bar": 5, "beat": 1.0,
        # 16 and 18 quarters at 140 a minute
        "time_s": pytest.approx(16 * 60 / 140, abs=1e-5),
        "end_time_s": pytest.approx(18 * 60 / 140, abs=1e-5),
    }  # fmt: skip
    assert found["certainty"] == 0.935
    assert found["readings"] == {
        "semitones_above_root": 2, "in_chord": False, "ratio": 0.333333
    }  # fmt: skip
    assert found["fix"]["edits"] == [
        {"do": "pitch", "track": 2, "channel": 2, "tick": 7680, "end_tick": 8640,
         "from": FS1, "to": 28}
    ]  # fmt: skip
    assert found["waived"] is None


def test_what_is_not_known_is_null():
    wide = report()["files"][0]["findings"][0]
    assert wide["part"] is None and wide["fix"] is None
    assert wide["readings"]["level"] is None  # NaN in the report
    chart, _ = overlap_song()
    chart.slides.level_db[:] = np.nan
    chart.roots.root[0] = -1
    told = strictly(chart_json(chart))
    assert told["slides"][0]["level_db"] is None
    first = told["roots"][0]
    assert first["root"] is first["root_pc"] is first["quality"] is None
    assert "NaN" not in chart_json(chart)


def test_an_unreadable_file_has_a_problem_and_no_chart():
    broken = report()["files"][2]
    assert broken["status"] == "unreadable" and broken["chart"] is None
    assert broken["problem"] == {
        "kind": "truncated",
        "message": "Track 1 announces 400 bytes, the file ends after 12. Export the song again.",
        "byte": 22,
    }


def test_waived_findings_are_counted_apart():
    assert report()["summary"] == {
        "files": 3, "unreadable": 1, "error": 2, "warning": 0, "note": 1, "waived": 1
    }  # fmt: skip


def test_bars_count_from_one_and_end_after_the_last():
    told = strictly(chart_json(wrong_note_song(16)))
    assert told["bars"] == 16
    assert [(p["start_bar"], p["end_bar"]) for p in told["phrases"]] == [(1, 9), (9, 17)]
    assert told["pattern"] == [{"start_bar": 1, "end_bar": 17, "kind": "root-follow"}]
    assert told["roots"][1] == {
        "start_tick": BAR, "end_tick": 2 * BAR, "root": "C", "root_pc": 0, "quality": "major",
        "certainty": 0.935, "source": "midi",
    }  # fmt: skip


def test_a_scale_is_told_from_its_tonic_up_and_stated_keys_as_stated():
    heard = strictly(chart_json(wrong_note_song()))["keys"][0]
    assert heard["scale_pcs"] == [4, 6, 7, 9, 11, 0, 2]  # E natural minor
    assert not heard["stated"]
    stated = chart_of(midi_bytes(plain_line(8), 8), facts=Facts(key=StatedKey(4, "minor")))
    assert strictly(chart_json(stated))["keys"][0]["stated"]


def test_edits_name_their_note_and_velocity_where_from_and_to_do_not():
    plain = edit_object(
        Edit(do="pitch", track=1, channel=2, tick=0, end_tick=10, before=30, after=28)
    )
    assert "pitch" not in plain and "velocity" not in plain
    new = edit_object(
        Edit(
            do="insert", track=1, channel=2, tick=0, end_tick=10, before=None, after=40, velocity=90
        )
    )
    assert new["from"] is None and new["to"] == 40 and new["velocity"] == 90
    louder = edit_object(
        Edit(do="velocity", track=1, channel=2, tick=0, end_tick=10, before=60, after=90, pitch=28)
    )
    assert (louder["from"], louder["to"], louder["pitch"]) == (60, 90, 28)


def test_the_same_report_gives_the_same_bytes_and_only_ascii():
    chart, found = roll_song()
    named = replace(found, message="12 hits “of” 1/32", fix=Fix("♭", "by-ear", ()))
    whole = Report((FileReport(path="beats/ü.mid", chart=chart, findings=(named,)),))
    assert report_json(whole) == report_json(whole)
    assert report_json(whole).isascii() and report_json(whole).endswith("}\n")
    assert strictly(report_json(whole))["files"][0]["findings"][0]["message"] == named.message


def test_fills_and_slides_are_told_by_part_number():
    chart, _ = roll_song()
    assert strictly(chart_json(chart))["fills"] == [
        {"part": 2, "start_tick": 23 * DIVISION, "end_tick": 24 * DIVISION, "hits": 12,
         "grid": "1/32 triplet", "velocity": "flat"}
    ]  # fmt: skip
    chart, _ = overlap_song()
    assert strictly(chart_json(chart))["slides"] == [
        {"part": 2, "how": "overlap", "start_tick": 8640, "land_tick": 8752, "from_pitch": 28.0,
         "to_pitch": 34.0, "level_db": -7.51}
    ]  # fmt: skip
