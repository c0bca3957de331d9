"""The map of two settings, the curve along one and the trade-off: each point is what the score would be there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from app.study import actions
from app.study.device.cost import cost_of
from app.study.pipeline import evaluate
from app.study.results.counts import Counter, figure_of
from app.study.results.setting_map import MAPPABLE, axis, curve, map_of, setting_apart, switched_off
from app.study.results.trade_off import chart_csv, chart_table, possible, trade_csv, trade_off, trade_table
from app.ui.analysis.map_chart import levels_between, ramp
from app.ui.charts.plot import contours
from detect.device.energy.budget import budget, sent_share
from detect.rule.front_end import FrontEnd
from detect.rule.integers import integer_of, rule_of
from detect.rule.settings import DEFAULTS, BadSetting
from detect.scoring.figures import figures
from detect.workers import Stopped
from tests.app.study_made import session

MOST = 21


def never() -> bool:
    return False


@pytest.fixture(scope="module")
def own():
    return session()


@pytest.fixture
def counter(own) -> Counter:
    _, labelled, prepared, _ = own.evaluated()
    return Counter(prepared, labelled)


@pytest.fixture
def drawn(own, counter):
    early = []
    view = map_of(own.study.settings, counter, ("impact_g", "free_fall_ms"), lambda share: None, never, early.append,
                  MOST)
    return view, early


@pytest.mark.parametrize("key", MAPPABLE)
@pytest.mark.parametrize("front_end", [FrontEnd(), FrontEnd(range_g=2, bits=8, rate_hz=12.5)])
def test_levels_ascend_and_no_two_stand_on_the_same_integer(key, front_end):
    levels = axis(key, DEFAULTS, front_end, 60).values
    assert list(levels) == sorted(set(levels))
    assert 2 <= len(levels) <= 61
    alone = DEFAULTS.with_value("free_fall_on", False)
    integers = [integer_of(key, rule_of(alone.with_value(key, value), front_end)) for value in levels]
    assert len(set(integers)) == len(integers)


def test_every_point_of_a_map_is_what_the_score_would_be_there(own, drawn):
    view, _ = drawn
    assert view.finished
    _, labelled, prepared, _ = own.evaluated()
    rng = np.random.default_rng(3)
    for ix, iy in zip(rng.integers(0, len(view.x), 12), rng.integers(0, len(view.y), 12), strict=True):
        settings = own.study.settings.with_value("impact_g", view.x.values[ix]) \
            .with_value("free_fall_ms", view.y.values[iy])
        try:
            found = evaluate(settings, prepared, labelled).score
        except BadSetting:
            assert not view.runs[iy, ix]
            continue
        assert view.counts[iy, ix].tolist() == [found.matrix.tp, found.matrix.fp, found.unlabelled[1]]
        every = figures(found)
        for name in ("youden_j", "sensitivity", "specificity", "f1"):
            assert view.values(name)[iy, ix] == pytest.approx(getattr(every, name).value)


def test_a_map_comes_from_coarse_to_fine_and_what_is_told_early_stays(drawn):
    view, early = drawn
    shares = [one.known.mean() for one in early]
    assert len(early) >= 2
    assert shares == sorted(shares)
    assert shares[0] < 0.1
    for one in early:
        assert np.array_equal(one.counts[one.known], view.counts[one.known])
    guessed = early[-1]
    assert np.mean((guessed.counts == view.counts).all(axis=2)) > 0.9


def test_what_lies_between_unlike_neighbours_is_worked_out_first(drawn):
    view, early = drawn
    edges = (np.diff(view.counts, axis=1) != 0).any(axis=2)
    known = early[-1].known[:, :-1] & early[-1].known[:, 1:]
    assert known[edges].mean() > 2 * known[~edges].mean()


def test_settings_the_rule_cannot_run_with_have_no_value(own, counter):
    view = map_of(own.study.settings, counter, ("impact_g", "free_fall_g"), lambda share: None, never,
                  lambda view: None, MOST)
    for iy, y in enumerate(view.y.values):
        for ix, x in enumerate(view.x.values):
            lower = own.study.front_end.counts(y) <= own.study.front_end.counts(x)
            assert bool(view.runs[iy, ix]) == lower
    assert np.array_equal(np.isnan(view.values("youden_j")), ~view.runs)


def test_a_map_that_is_called_off_stops_and_leaves_the_counter_fit(own, counter):
    asked = []

    def soon() -> bool:
        asked.append(1)
        return len(asked) > 2

    with pytest.raises(Stopped):
        map_of(own.study.settings, counter, ("impact_g", "still_g"), lambda share: None, soon, lambda view: None, MOST)
    line = curve(own.study.settings, counter, "impact_g", lambda share: None, never, MOST)
    _, labelled, prepared, _ = own.evaluated()
    other = Counter(prepared, labelled)
    assert np.array_equal(line.counts, curve(own.study.settings, other, "impact_g", lambda share: None, never,
                                             MOST).counts)


def test_a_curve_tells_what_one_setting_buys(own, counter):
    line = curve(own.study.settings, counter, "impact_g", lambda share: None, never, 40)
    caught = line.counts[:, 0]
    assert caught[0] >= caught[-1] == 0
    assert line.values("sensitivity")[0] == caught[0] / 6
    lines = chart_csv(line)
    assert len(lines) == 1 + len(line.x)
    assert {len(one) for one in lines} == {len(lines[0])}


def test_a_map_stays_while_only_its_own_two_settings_move():
    moved = DEFAULTS.with_value("impact_g", 3.0)
    assert setting_apart(moved, ("impact_g", "still_g")) == setting_apart(DEFAULTS, ("impact_g", "still_g"))
    assert setting_apart(moved, ("tilt_deg", "still_g")) != setting_apart(DEFAULTS, ("tilt_deg", "still_g"))


def test_a_setting_of_a_stage_that_is_off_says_so():
    assert switched_off("tilt_deg", DEFAULTS) == ""
    assert switched_off("tilt_deg", DEFAULTS.with_value("tilt_on", False)) == "Tilt change"
    assert switched_off("baseline_ms", DEFAULTS.with_value("tilt_on", False)) == "Tilt change"
    assert switched_off("impact_g", DEFAULTS.with_value("free_fall_on", False)) == ""


def test_no_outcome_beats_an_undominated_one_in_both(own, counter, drawn):
    counter.count([own.study.settings], never)
    map_of(own.study.settings, counter, ("still_g", "tilt_deg"), lambda share: None, never, lambda view: None, MOST)
    assert possible(counter.trials) == ("unlabelled", "others")
    for against in possible(counter.trials):
        trade = trade_off(counter, own.study.settings, None, against)
        places = [(point.missed.value, point.alarms.value) for point in trade.points]
        assert len(set(places)) == len(places) > 3
        for point in trade.points:
            beaten = any(m <= point.missed.value and a <= point.alarms.value and (m, a) != (
                point.missed.value, point.alarms.value) for m, a in places)
            assert point.undominated == (not beaten)
            assert point.missed.low <= point.missed.value <= point.missed.high
            assert point.alarms.low <= point.alarms.value <= point.alarms.high


def test_a_dot_of_the_trade_off_has_the_settings_that_came_to_it(own, counter, drawn):
    trade = trade_off(counter, own.study.settings, None, "others")
    _, labelled, prepared, _ = own.evaluated()
    for point in trade.undominated:
        found = evaluate(point.settings, prepared, labelled).score
        assert (found.matrix.tp, found.matrix.fp, found.unlabelled[1]) == point.counts


def test_the_settings_in_hand_are_marked_in_the_trade_off(own, counter):
    counter.count([own.study.settings, own.study.settings.with_value("impact_g", 5.0)], never)
    m = own.found().score.matrix
    trade = trade_off(counter, own.study.settings, (m.tp, m.fp, own.found().score.unlabelled[1]), "others")
    (mine,) = [point for point in trade.points if point.in_hand]
    assert (mine.settings, mine.counts[:2]) == (own.study.settings, (m.tp, m.fp))


def test_without_falls_there_is_nothing_to_weigh_and_no_figure():
    bare = session()
    falls = [item.name for item in bare.study.items if any(label.kind == "fall" for label in item.labels)]
    bare.act(actions.leave_out(bare.study, falls, "none"), "leave out")
    _, labelled, prepared, _ = bare.evaluated()
    counter = Counter(prepared, labelled)
    line = curve(bare.study.settings, counter, "impact_g", lambda share: None, never, 8)
    assert np.isnan(line.values("youden_j")).all()
    assert np.isfinite(line.values("specificity")).all()
    trade = trade_off(counter, bare.study.settings, None, "others")
    assert trade.points == ()
    assert trade.why_not == "A trade-off can't be drawn: no labelled fall."


def test_tables_have_what_the_pictures_have(own, counter, drawn):
    view, _ = drawn
    table, lines = chart_table(view), chart_csv(view)
    assert len(table.rows) == len(lines) - 1 == view.known.size
    words, cell = table.rows[len(view.x) + 2]
    assert cell == (2, 1)
    assert words[2] == f"{view.values('youden_j')[1, 2]:.3f}".replace("-", "−")
    trade = trade_off(counter, own.study.settings, None, "others")
    assert len(trade_table(trade).rows) == len(trade.undominated)
    heading, *rows = trade_csv(trade)
    assert len(rows) == len(trade.points)
    assert rows[0][heading.index("impact_g")] == f"{trade.points[0].settings['impact_g']:.9g}"


def test_a_dot_of_the_trade_off_says_what_its_unlabelled_cost(own, counter, drawn):
    study = own.study

    def cost(unlabelled_per_day):
        return cost_of(study, unlabelled_per_day)

    trade = trade_off(counter, study.settings, None, "unlabelled", cost)
    heading, *rows = trade_csv(trade)
    for point, row in zip(trade.points, rows, strict=True):
        sent = point.alarms.value * sent_share(study.device)
        found = budget(study.device, study.front_end.rate_hz, sent)
        assert (point.cost.mean_ua, point.cost.days) == (pytest.approx(found.mean_ua), pytest.approx(found.days))
        assert float(row[heading.index("mean_ua")]) == pytest.approx(found.mean_ua)
        assert float(row[heading.index("days")]) == pytest.approx(found.days)
    by_alarms = sorted(trade.points, key=lambda point: point.alarms.value)
    assert by_alarms[0].cost.days > by_alarms[-1].cost.days
    table = trade_table(trade)
    assert "current, battery lasts" in table.headings
    assert all(len(words) == len(table.headings) for words, _ in table.rows)
    empty = actions.set_device_value(study, "battery.charge_pct", 0)
    none = trade_off(counter, study.settings, None, "unlabelled",
                     lambda unlabelled_per_day: cost_of(empty, unlabelled_per_day))
    assert {point.cost for point in none.points} == {None}
    assert len(trade_table(none).headings) == len(table.headings) - 1


def test_figures_without_trials_have_no_data(counter):
    none = replace(counter.trials, falls=0, others=0)
    for name in ("youden_j", "sensitivity", "specificity", "f1"):
        assert np.isnan(figure_of(name, np.zeros((2, 3)), none)).all()


# The picture

def test_the_ramp_is_even_and_only_gets_lighter():
    """Luminance by the weights of ITU-R BT.709; equal steps in OKLab (Ottosson 2020) up to the rounding to 8 bits."""
    colours = ramp(np.linspace(0, 1, 65)) / 255
    linear = np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
    assert (np.diff(linear @ [0.2126, 0.7152, 0.0722]) > 0).all()
    lms = np.cbrt(linear @ np.array([[0.4122214708, 0.5363325363, 0.0514459929],
                                     [0.2119034982, 0.6806995451, 0.1073969566],
                                     [0.0883024619, 0.2817188376, 0.6299787005]]).T)
    lab = lms @ np.array([[0.2104542553, 0.7936177850, -0.0040720468], [1.9779984951, -2.4285922050, 0.4505937099],
                          [0.0259040371, 0.7827717662, -0.8086757660]]).T
    steps = np.linalg.norm(np.diff(lab[::8], axis=0), axis=1)
    assert steps.max() < 1.1 * steps.min()


@given(arrays(float, (5, 6), elements=st.floats(0, 1, width=16)))
def test_contours_part_what_is_higher_from_what_is_lower(values):
    """Along every grid line, crossings lie exactly between a place below the level and one at least as high."""
    level = 0.5
    lines = contours(values, level)
    ends = {(round(x, 9), round(y, 9)) for x, y in (*lines[:, :2].tolist(), *lines[:, 2:].tolist())}
    for iy in range(5):
        for ix in range(5):
            a, b = values[iy, ix], values[iy, ix + 1]
            crosses = (a >= level) != (b >= level)
            if crosses:
                assert (round(ix + (level - a) / (b - a), 9), float(iy)) in ends
    assert len(ends) == 0 or (values >= level).any() != (values >= level).all()


def test_contours_keep_out_of_cells_without_a_value():
    values = np.tile(np.arange(6.0), (4, 1))
    values[0, 0] = np.nan
    assert len(contours(values, 0.5)) == 2
    assert len(contours(values, 2.5)) == 3
    assert levels_between(0.0, 1.0, 0.25) == [0.25, 0.5, 0.75]
