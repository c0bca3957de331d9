"""A raw capture becomes recordings whose gaps, grid and attempts are those that were seen live."""

from datetime import datetime

import numpy as np
import pytest

from app.study.capture.faults import Faults, FaultyLine
from app.study.capture.listener import Listener
from app.study.capture.live_rule import LiveRule, NodeScale
from app.study.capture.node_stream import Run
from app.study.capture.raw_file import (
    ENDED,
    MARK,
    RECEIVED,
    Header,
    Piece,
    RawReader,
    RawWriter,
    beginning,
    mark,
    packed,
)
from app.study.capture.recordings import make_recordings
from app.study.capture.simulator import Schedule, restarted, sent
from app.study.capture.study_intake import Wearers, Worn, labels_in, new_capture, taken_in, unfinished
from app.study.session import Session
from data.problem import Problem
from data.recordings.model import Label
from data.recordings.reading import read_recording
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.settings import DEFAULTS
from tests.app.study.capture.sender import made

FRONT_END = FrontEnd(rate_hz=50)
RULE = rule_of(DEFAULTS, FRONT_END)


def raw_of(path, pieces, protocol="binary", **header):
    writer = RawWriter(path, Header("test", protocol, **header))
    for kind, data in pieces:
        writer.append(kind, data)
    writer.append(ENDED, b"")
    writer.close()
    return path


def played(nodes, protocol="binary", faults=None, seed=0, batch=10):
    """Everything the nodes send, through a line with faults."""
    line = FaultyLine(faults or Faults(), seed)
    schedule, at = Schedule(nodes, protocol, batch), 0.0
    messages = []
    while not schedule.over:
        at += 0.5
        messages += line.take(schedule.take(at))
    return [(RECEIVED, data) for data in line.pieces([*messages, *line.rest()])]


def live(path):
    """What the rule says live, by node and start."""
    reader = RawReader(path)
    listener, rules, found = Listener(reader.header), {}, {}
    heard = [*listener.take(reader.all()), *listener.finish()]
    reader.close()
    for one in heard:
        if isinstance(one.said, Run):
            run = one.said
            scale = NodeScale.of("counts", 0.0, listener.nodes[run.node].hello, FRONT_END)
            rule = rules.setdefault(run.node, LiveRule(RULE))
            counts = scale.counts(run.samples, FRONT_END)
            starts = found.setdefault(run.node, {})
            if run.start not in starts and starts:
                starts[run.start - 1] += rule.take(Run(run.node, run.start, run.first, run.samples[:0], False, None),
                                                   counts[:0])
            starts.setdefault(run.start, []).extend(rule.take(run, counts))
    for node, rule in rules.items():
        found[node][max(found[node])] += rule.finish()
    return listener, found


@pytest.mark.parametrize("faults", [Faults(), Faults(0.03, 0.03, 0.03, 0.03, 0.03)])
@pytest.mark.parametrize("protocol", ["binary", "text"])
def test_the_recording_scored_later_gives_the_attempts_that_were_seen_live(tmp_path, protocol, faults):
    raw = raw_of(tmp_path / "walk.plfcap", played(made(2, 3000, 50), protocol, faults, seed=7), protocol)
    listener, seen = live(raw)
    session = Session()
    taken, batch = taken_in(session, raw)
    assert not batch.refused
    assert [one.exact for one in taken.recordings] == [True, True]
    found, _, prepared, _ = session.evaluated()
    alarms = 0
    for name, one in zip(prepared.names, taken.recordings, strict=True):
        recording = session.library[name]
        losses = listener.nodes[one.node].losses
        assert len(recording) == losses.received
        later = [found.attempts.attempt(i) for i in found.attempts.of(prepared.names.index(name))]
        assert later == seen[one.node][1]
        alarms += sum(attempt.ended == "alarm" for attempt in later)
        assert recording.gaps == one.gaps
        missing = sum(after.start_s - (before.start_s + (after.first - before.first) * before.step_s)
                      for before, after in zip(recording.stretches, recording.stretches[1:], strict=False))
        assert round(missing / recording.stretches[0].step_s) == losses.lost
    assert alarms >= (8 if faults == Faults() else 2)


def test_a_restart_is_a_recording_of_its_own(tmp_path):
    node, = made(1, 1000, 50)
    again = restarted(node)
    pieces = [(RECEIVED, b"".join(sent(one, at, at + 10, "binary"))) for one in (node, again)
              for at in range(0, 600, 10)]
    taken = make_recordings(raw_of(tmp_path / "a.plfcap", pieces), tmp_path, None)
    assert [(one.node, one.samples, one.gaps) for one in taken.recordings] == [(1, 600, 0), (1, 600, 0)]
    assert [one.path.name for one in taken.recordings] == ["a_node1_1.csv", "a_node1_2.csv"]


def test_a_file_cut_anywhere_gives_all_that_was_whole(tmp_path):
    node, = made(1, 400, 50)
    pieces = [(RECEIVED, b"".join(sent(node, at, at + 10, "binary"))) for at in range(0, 400, 10)]
    whole = raw_of(tmp_path / "a.plfcap", pieces).read_bytes()
    found_before = 0
    for cut in range(400, len(whole), 37):
        path = tmp_path / "cut.plfcap"
        path.write_bytes(whole[:cut])
        reader = RawReader(path)
        listener = Listener(reader.header)
        runs = [one.said for one in [*listener.take(reader.all()), *listener.finish()] if isinstance(one.said, Run)]
        samples = np.vstack([run.samples for run in runs]) if runs else np.zeros((0, 3))
        assert (samples == node.counts[:len(samples)]).all()
        assert found_before <= len(samples) <= 400
        found_before = len(samples)
        reader.close()
    assert found_before >= 380


def test_a_damaged_piece_ends_what_is_read_and_a_file_that_is_no_capture_is_refused(tmp_path):
    node, = made(1, 400, 50)
    path = raw_of(tmp_path / "a.plfcap",
                  [(RECEIVED, b"".join(sent(node, at, at + 10, "binary"))) for at in range(0, 400, 10)])
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)
    reader = RawReader(path)
    assert 10 < len(list(reader.all())) < 30
    assert reader.damaged > 0
    reader.close()
    for content in (b"", b"time,x,y,z\n1,2,3,4\n", b"PLUMBFALL CAPTURE 1\n{}\n", b"PLUMBFALL CAPTURE 1\n{\n"):
        path.write_bytes(content)
        with pytest.raises(Problem, match="not a raw capture"):
            RawReader(path)


def test_boards_of_another_scale_are_kept_in_their_own_counts_and_told_apart(tmp_path):
    raw = raw_of(tmp_path / "a.plfcap", played(made(1, 1000, 50)))
    taken = make_recordings(raw, tmp_path, FrontEnd(range_g=8, bits=14, rate_hz=50))
    one, = taken.recordings
    assert not one.exact
    recording, _ = read_recording(one.path.read_bytes(), "a", one.recipe)
    node, = made(1, 1000, 50)
    assert recording.samples == pytest.approx(node.counts / 512, abs=1e-12)
    assert recording.unit == "g"


def test_a_line_of_columns_in_a_unit_of_its_own(tmp_path):
    rows = "".join(f"{i},{0.01 * (i % 7):.2f},9.8,-0.3\n" for i in range(300) if i not in (100, 102))
    header = {"columns": ("sequence", "x", "y", "z"), "unit": "m/s2", "rate_hz": 25.0}
    raw = raw_of(tmp_path / "a.plfcap", [(RECEIVED, rows.encode())], "columns", **header)
    one, = make_recordings(raw, tmp_path, None).recordings
    recording, _ = read_recording(one.path.read_bytes(), "a", one.recipe)
    assert [s.first for s in recording.stretches] == [0, 100, 101]
    assert recording.rate_hz == 25
    assert recording.samples[0].tolist() == pytest.approx([0, 9.8 / 9.80665, -0.3 / 9.80665])


def test_a_capture_of_columns_without_a_rate_asks_for_it(tmp_path):
    raw = raw_of(tmp_path / "a.plfcap", [(RECEIVED, b"1,2,3\n" * 50)], "columns", columns=("x", "y", "z"), unit="g")
    with pytest.raises(Problem, match="Nothing says at which rate"):
        make_recordings(raw, tmp_path, None)


def test_labels_are_what_was_marked_and_stand_on_the_node_s_samples(tmp_path):
    marks = [("start", "fall", "slip"), ("end",), ("start", "other", "sit"), ("end",), ("undo",),
             ("start", "other", "x"), ("undo",)]
    pieces = played(made(2, 1000, 50))
    third = len(pieces) // 3
    said = [(MARK, mark(what, **dict(zip(("kind", "name"), rest, strict=False)))) for what, *rest in marks]
    raw = raw_of(tmp_path / "a.plfcap", [*pieces[:third], *said, *pieces[third:]])
    reader = RawReader(raw)
    label, = labels_in(reader.all())
    reader.close()
    assert (label.kind, label.name) == ("fall", "slip")
    assert label.onset_s <= label.end_s


def test_who_wore_a_node_goes_into_its_recording(tmp_path):
    session = Session()
    taken_in(session, raw_of(tmp_path / "a.plfcap", played(made(2, 500, 50))), Wearers({101: Worn("P01", "waist")}))
    first, second = session.study.items
    assert (first.about.person, first.about.placement, first.about.node) == ("P01", "waist", "1")
    assert second.about.person == ""
    assert first.group == second.group == "a"
    assert session.study.front_end == FrontEnd(rate_hz=50)


def test_nothing_understood_is_a_sentence(tmp_path):
    with pytest.raises(Problem, match="No node has sent two samples"):
        taken_in(Session(), raw_of(tmp_path / "a.plfcap", [(RECEIVED, b"\x55" * 4000)]))


def test_a_label_that_is_open_when_the_capture_ends_ends_with_it(tmp_path):
    path = tmp_path / "a.plfcap"
    path.write_bytes(beginning(Header("test", "text")) + b"".join(packed(piece) for piece in (
        Piece(RECEIVED, 1_000_000, b"x"), Piece(MARK, 2_000_000, mark("start", kind="fall", name="slip")),
        Piece(ENDED, 5_000_000, b""))))
    assert labels_of(path) == (Label("fall", "slip", 2.0, 5.0),)
    with path.open("ab") as file:  # by a mark that came after the end
        file.write(packed(Piece(MARK, 9_000_000, mark("end"))))
    assert labels_of(path) == (Label("fall", "slip", 2.0, 5.0),)
    with path.open("ab") as file:
        file.write(packed(Piece(MARK, 9_000_000, mark("undo"))))
    assert labels_of(path) == ()


def labels_of(path):
    reader = RawReader(path)
    try:
        return labels_in(reader.all())
    finally:
        reader.close()


def test_a_new_capture_is_named_by_its_second_and_never_as_one_that_is_there(tmp_path, monkeypatch):
    class Clock(datetime):
        @classmethod
        def now(cls, tz=None):
            return cls(2026, 1, 31, 9, 0, 5, tzinfo=tz)

    monkeypatch.setattr("app.study.capture.study_intake.datetime", Clock)
    assert new_capture(tmp_path) == tmp_path / "2026-01-31_09-00-05.plfcap"
    (tmp_path / "2026-01-31_09-00-05_node1_1.csv").touch()  # of a capture that was moved away
    assert new_capture(tmp_path) == tmp_path / "2026-01-31_09-00-05-2.plfcap"
    (tmp_path / "2026-01-31_09-00-05-2.plfcap").touch()
    assert new_capture(tmp_path).name == "2026-01-31_09-00-05-3.plfcap"


def test_captures_without_recordings_are_offered_but_for_those_into_which_nothing_came(tmp_path):
    raw_of(tmp_path / "empty.plfcap", [])
    came = raw_of(tmp_path / "came.plfcap", [(RECEIVED, b"x")])
    raw_of(tmp_path / "made.plfcap", [(RECEIVED, b"x")])
    (tmp_path / "made_node1_1.csv").touch()
    (tmp_path / "damaged.plfcap").write_bytes(b"no beginning")
    assert unfinished(tmp_path) == [came, tmp_path / "damaged.plfcap"]
