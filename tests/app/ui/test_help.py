"""Help: F1 opens it, words find a page, keys and examples on the pages work, and the command has the same pages."""

from __future__ import annotations

import json
import re
import shlex
from html.parser import HTMLParser

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction
from PySide6.QtTest import QTest

from app.__main__ import main, parser
from app.study.help import pages
from app.study.help.pages import SHORTCUTS
from app.ui.trace.label_lane import COMMANDS
from data.problem import Problem
from data.recipe.recipe import read_recipe
from detect.rule.settings import PARAMETERS, Unit

SHEET = {(key, does.removeprefix("in the list: ")) for _, keys in SHORTCUTS for written, does in keys
         for key in re.split(r" or |, ", written)}


@pytest.fixture
def opened(program):
    QTest.keyClick(program.window, Qt.Key.Key_F1)
    assert program.helping.visible
    return program.helping


def titles(helping) -> list[str]:
    return [helping.list.item(row).text() for row in range(helping.list.count())]


def test_f1_shows_all_pages_and_words_find_one(opened):
    assert titles(opened) == list(pages.TITLES.values())
    assert "From your own folder" in opened.page.toPlainText()
    assert opened.search.hasFocus()
    QTest.keyClicks(opened.search, "refractory period")
    assert titles(opened) == ["Glossary"]
    assert "hold-off" in opened.page.toPlainText()
    QTest.keyClicks(opened.search, " nowhere at all")
    assert titles(opened) == []
    assert "Search for other words" in opened.page.toPlainText()
    opened.search.clear()
    assert titles(opened) == list(pages.TITLES.values())


def test_every_key_of_the_window_is_on_the_sheet_with_its_words(program):
    ours = ("MainWindow", "RecordingsTable", "TracePanel")
    keys = {(key.toString(), one.text().replace("&", "")) for one in program.window.findChildren(QAction)
            for key in one.shortcuts() if type(one.parent()).__name__ in ours and one in one.parent().actions()
            and not key.isEmpty()}
    missing = {(key, words) for key, words in keys if not any(
        key == written and (words == does or words.startswith(f"{does}:")) for written, does in SHEET)}
    assert missing == set()


def test_every_key_of_the_label_lane_is_on_the_sheet():
    lane = dict(SHORTCUTS)["Label lane"]
    written = " ".join(key for key, _ in lane)
    assert [one.keys for one in COMMANDS if one.keys.rpartition("+")[2] not in written] == []
    words = {does for _, does in lane}
    plain = [one for one in COMMANDS if not any(way in one.words for way in ("later", "earlier", "sample"))]
    assert [one.words for one in plain if not any(one.words.casefold() in does.casefold() for does in words)] == []


def test_the_rules_page_has_every_number_of_the_rule():
    text = pages.as_text(pages.page("rule"))
    numbers = [row for row in PARAMETERS if row.unit not in (Unit.SWITCH, Unit.CHOICE, Unit.VECTOR)]
    assert [row.spoken for row in numbers if row.spoken not in text] == []


def test_the_recipe_of_the_page_is_one_and_its_sections_are_known(tmp_path):
    html = str(pages.page("recipes").html)
    path = tmp_path / "logger.toml"
    path.write_text(re.search(r"<pre>(.*?)</pre>", html, re.DOTALL)[1].replace("&#34;", '"'))
    recipe = read_recipe(path)
    assert recipe.units.acceleration == "m/s2"
    assert recipe.labels.falls == ("fall", "slip")
    for name in (name for cell in re.findall(r"<tr><td>([\w, ]+)</td>", html) for name in cell.split(", ")):
        path.write_text(f"[{name}]\ntea = 1\n")
        with pytest.raises(Problem, match=rf"{name}\.tea|{name}\.\w+ must"):  # the section is known, tea is not
            read_recipe(path)


def test_the_capture_page_has_the_keys_of_its_window_and_commands_that_exist(program):
    html = str(pages.page("capture").html)
    keys = dict(re.findall(r"<tr><td>(F\d)</td><td>(\w+ \w+)", html))
    dialog = program.capturing.dialog
    buttons = dialog.fall, dialog.other, dialog.end_label, dialog.undo
    assert {f"{words} ({key})" for key, words in keys.items()} == {button.toolTip() for button in buttons}
    commands = re.search(r"<pre>(.*?)</pre>", html, re.DOTALL)[1].replace("&#34;", '"').splitlines()
    assert len(commands) > 3
    for command in commands:
        name, *words = shlex.split(command)
        assert name == "plumbfall"
        assert parser().parse_args(words).command == "capture"
    for named in (dialog.recover, dialog.volunteers.redo_failed):
        assert named.text() in html


class _Links(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.ids += [found["id"]] if "id" in found else []
        self.links += [found[name] for name in ("href", "src") if name in found]
        if tag not in ("meta", "link", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_the_html_needs_nothing_from_elsewhere_and_closes_what_it_opens():
    reader = _Links()
    reader.feed(pages.as_html())
    assert reader.open == []
    assert {f"#{key}" for key in pages.TITLES} == set(reader.links) - {"data:,"}
    assert set(reader.ids) == set(pages.TITLES)


def test_the_command_has_the_same_pages(capsys, tmp_path):
    assert main(["help"]) == 0
    listed = capsys.readouterr().out
    assert all(key in listed for key in pages.TITLES)
    assert main(["help", "glossary"]) == 0
    assert capsys.readouterr().out == pages.as_text(pages.page("glossary"))
    assert main(["help", "--search", "refractory", "--json"]) == 0
    assert [one["page"] for one in json.loads(capsys.readouterr().out)] == ["glossary"]
    assert main(["help", "--to", str(tmp_path / "help.html")]) == 0
    assert (tmp_path / "help.html").read_text(encoding="utf-8") == pages.as_html()
    assert main(["help", "tea"]) == 2
    assert "Name one of first-hour" in capsys.readouterr().err
