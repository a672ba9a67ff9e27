"""Is it steady? The page, a change, a day, and a log brought in by the browser."""

import re
from datetime import timedelta
from html import unescape
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from watch_tanks import Course
from watch_world import DAY_0, RILL, SINCE, WEAKER, at, csv_of, make_logged_world, samples_of
from web_world import World, tokens

from dawnlevel.store import open_store
from dawnlevel.tank import PhReading
from dawnlevel.web import watched

WATCH = f"{RILL}/watch"
CHANGED = DAY_0 + timedelta(days=SINCE)


@pytest.fixture(scope="module")
def logged(tmp_path_factory: pytest.TempPathFactory) -> World:
    """A world that is only looked at."""
    return make_logged_world(tmp_path_factory.mktemp("logged"))


@pytest.fixture(scope="module")
def page(logged: World) -> str:
    return logged.local().get(WATCH).text


@pytest.fixture
def empty(tmp_path: Path) -> World:
    return make_logged_world(tmp_path, None)


def words(text: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", text)))


def stored(world: World) -> int:
    with open_store(world.store) as store:
        return len(store.samples("Rill"))


def finding_path(page: str) -> str:
    found = re.search(rf'href="({WATCH}/injection_weaker-[\d-]+)"', page)
    assert found is not None
    return found[1]


def send(browser: TestClient, content: bytes, name: str = "probe.csv") -> tuple[int, str, str]:
    """Send a file; status, where it leads, the page that is shown then."""
    form = tokens(browser.get(WATCH).text)
    answer = browser.post(f"{WATCH}/log", data=form, files={"file": (name, content, "text/csv")})
    if answer.status_code != 303:
        return answer.status_code, "", answer.text
    where = answer.headers["location"]
    return 303, where, browser.get(where).text


def confirm(browser: TestClient, where: str, *, leave: bool = False) -> tuple[str, str]:
    """Say yes, or leave it; where it leads and the page there."""
    form = tokens(browser.get(where).text)
    answer = browser.post(f"{where}/leave" if leave else where, data=form)
    assert answer.status_code == 303
    return answer.headers["location"], browser.get(answer.headers["location"]).text


# --- the page ---


def test_the_answer_comes_first_with_since_when(page: str) -> None:
    answer = re.search(r'<p class="action">(.*?)</p>', page)
    assert answer is not None
    assert re.fullmatch(
        r"Not steady: since \w+ (\d+) May 2026 less gas dissolves than before, about \d+ % less\.", answer[1]
    )
    assert 'aria-current="page">Steady<' in page


def test_every_logged_day_is_a_link_that_says_what_it_was(page: str) -> None:
    links = re.findall(rf'href="{WATCH}/days/([\d-]+)" aria-label="([^"]+)"', page)
    assert len(links) == len({day for day, _ in links}) == 24
    said = dict(links)
    assert "less gas than usual" in said[str(CHANGED + timedelta(days=3))]
    assert "gas" not in said[str(CHANGED - timedelta(days=3))]
    assert all("mg/L at lights-on" in text or "no reading" in text for _, text in links)


def test_marks_are_not_by_colour_alone(page: str) -> None:
    cells = re.findall(r'<a class="day level-(\w+)([^"]*)".*?<span class="marks"[^>]*>(.*?)</span>', page)
    marks = {"inside": "●", "below": "▼", "above": "▲", "unknown": "–"}
    assert cells
    for level, more, shown in cells:
        assert shown == marks[level] + ("!" if " odd" in more else "")


def test_a_finding_has_its_odds_interval_causes_and_check(page: str) -> None:
    section = page.split('class="sheet finding"')[1].split("</section>", maxsplit=1)[0]
    told = words(section)
    assert re.search(r"How sure: (\d+|over 99) %", told)
    assert re.search(r"It began between \w+ \d+ May 2026 \d\d:\d\d and \w+ \d+ May 2026 \d\d:\d\d", told)
    assert "The one check: Count the bubbles" in told
    assert section.count("<li>") >= 3
    assert "For: " in told


def test_the_picture_has_words_and_a_table(page: str) -> None:
    figures = page.split('id="figures-title"')[1]
    assert figures.count("<svg") == 2
    assert all('aria-hidden="true"' in one for one in re.findall(r"<svg [^>]*>", figures))
    assert "CO2 at lights-on: last" in words(figures)
    table = figures.split("<tbody>")[1].split("</tbody>")[0]
    assert table.count("<tr>") == 24


def test_the_same_log_is_judged_once(logged: World) -> None:
    first = logged.house.watchings.of("Rill")
    assert first is not None
    assert logged.house.watchings.of("Rill") is first


# --- a change and a day ---


def test_a_change_is_shown_before_and_after_with_what_to_do(logged: World, page: str) -> None:
    answer = logged.local().get(finding_path(page))
    told = words(answer.text)
    assert answer.status_code == 200
    for part in (
        "The one check",
        "Perhaps, the likeliest first",
        "What to do next",
        "Figures before and after",
    ):
        assert part in told
    assert answer.text.count("<svg") == 4
    for onward in re.findall(r'<li><a href="([^"]+)">', answer.text.split('class="onward"')[1]):
        assert logged.local().get(onward).status_code == 200


def test_a_change_whose_day_has_moved_is_found_and_others_are_not(logged: World) -> None:
    browser = logged.local()
    assert browser.get(f"{WATCH}/injection_weaker-{CHANGED + timedelta(days=3)}").status_code == 200
    assert browser.get(f"{WATCH}/gas_empty-{CHANGED}").status_code == 404
    assert browser.get(f"{WATCH}/nonsense").status_code == 404


def test_a_day_is_shown_beside_the_usual_ones(logged: World) -> None:
    browser = logged.local()
    day = CHANGED + timedelta(days=4)
    text = browser.get(f"{WATCH}/days/{day}").text
    assert "less gas than usual" in words(text)
    assert "Usual days: " in text
    assert f"{WATCH}/days/{day - timedelta(days=1)}" in text
    assert f"{WATCH}/days/{day + timedelta(days=1)}" in text
    assert browser.get(f"{WATCH}/days/{DAY_0 - timedelta(days=9)}").status_code == 404
    assert browser.get(f"{WATCH}/days/someday").status_code in {404, 422}


def test_only_the_pictures_looked_at_last_are_kept(logged: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(watched, "MOST_PICTURES", 2)
    days = [str(DAY_0 + timedelta(days=number)) for number in range(5, 9)]
    for day in days:
        assert logged.local().get(f"{WATCH}/days/{day}").text.count("<svg") == 4
    found = logged.house.watchings.of("Rill")
    assert found is not None
    assert list(found.pictures) == days[-2:]


# --- a log brought in ---


def test_without_a_log_the_page_says_what_it_needs(empty: World) -> None:
    answer = empty.local().get(WATCH)
    assert answer.status_code == 200
    assert "From a pH probe's log of six days or more" in words(answer.text)
    assert 'enctype="multipart/form-data"' in answer.text


def test_a_file_is_looked_at_and_stored_only_on_a_yes(empty: World) -> None:
    browser = empty.local()
    content = csv_of(WEAKER, 2)
    status, where, shown = send(browser, content)
    assert status == 303
    assert "2,880 new readings" in words(shown)
    assert "From Mon 4 May 2026 00:00 to Tue 5 May 2026 23:59" in words(shown)
    assert "Time column “time” pH column “ph”" in words(shown)
    assert stored(empty) == 0
    place, after = confirm(browser, where)
    assert stored(empty) == 2880
    assert "Brought in: 2,880 readings" in words(after)
    again = browser.get(where)
    assert (again.status_code, again.headers["location"]) == (303, place)
    assert confirm_again(browser, where, after) == place
    assert stored(empty) == 2880


def confirm_again(browser: TestClient, where: str, shown: str) -> str:
    """A second yes to the same file, from a page that was still open."""
    answer = browser.post(where, data=tokens(shown))
    assert answer.status_code == 303
    return answer.headers["location"]


def test_what_is_stored_already_is_counted_and_not_doubled(empty: World) -> None:
    browser = empty.local()
    _, where, _ = send(browser, csv_of(WEAKER, 1))
    confirm(browser, where)
    _, where, shown = send(browser, csv_of(WEAKER, 2))
    assert "1,440 new readings" in words(shown)
    assert "1,440 are stored already" in words(shown)
    confirm(browser, where)
    assert stored(empty) == 2880
    _, _, shown = send(browser, csv_of(WEAKER, 2))
    assert "Nothing new" in words(shown)
    assert "Bring it in" not in shown


def test_a_file_left_is_gone_and_nothing_is_stored(empty: World) -> None:
    browser = empty.local()
    _, where, _ = send(browser, csv_of(WEAKER, 1))
    _, after = confirm(browser, where, leave=True)
    assert "nothing was stored" in words(after)
    assert stored(empty) == 0
    assert browser.get(where).status_code == 404


def test_bad_lines_are_shown_together_and_nothing_is_stored(empty: World) -> None:
    browser = empty.local()
    rows = csv_of(WEAKER, 1).decode().splitlines()
    rows[3], rows[9] = "yesterday,7.0", "2026-05-04 00:08,acid"
    status, _, shown = send(browser, "\n".join(rows).encode())
    told = words(shown)
    assert status == 422
    assert "Nothing was brought in: 2 places to put right." in told
    assert "Line 4: 'yesterday' is no time." in told
    assert "Line 10: 'acid' is no pH." in told
    assert stored(empty) == 0


def test_columns_that_were_not_found_are_named_and_the_file_need_not_be_sent_again(empty: World) -> None:
    browser = empty.local()
    content = csv_of(WEAKER, 1).replace(b"time,ph", b"moment,glass electrode")
    status, _, shown = send(browser, content)
    assert status == 422
    assert "No column is called after the time (columns: moment, glass electrode)." in words(shown)
    where = re.search(rf'<form method="get" action="({WATCH}/log/[^"]+)"', shown)
    assert where is not None
    wrong = browser.get(where[1], params={"time": "moment", "ph": "glass"})
    assert wrong.status_code == 422
    assert "There is no column 'glass' for ph" in words(wrong.text)
    assert 'name="ph" value="glass"' in wrong.text
    named = {"time": "1", "ph": "Glass electrode"}
    right = browser.get(where[1], params=named)
    assert "1,440 new readings" in words(right.text)
    form = tokens(right.text) | dict(
        re.findall(r'<input type="hidden" name="(time|ph)" value="([^"]+)">', right.text)
    )
    assert form.keys() >= named.keys()
    assert browser.post(where[1], data=form).status_code == 303
    assert stored(empty) == 1440


def test_a_probe_whose_clock_keeps_another_zone(empty: World) -> None:
    browser = empty.local()
    _, where, _ = send(browser, csv_of(WEAKER, 1))
    moved = browser.get(where, params={"zone": "Asia/Tokyo"})
    assert "From Sun 3 May 2026 15:00 to Mon 4 May 2026 14:59, by the clock of UTC" in words(moved.text)
    wrong = browser.get(where, params={"zone": "Nowhere/Else"})
    assert wrong.status_code == 422
    assert "'Nowhere/Else' is no time zone" in words(wrong.text)


def test_a_log_from_the_future_is_refused(empty: World) -> None:
    status, _, shown = send(empty.local(), b"time,ph\n2026-05-27 10:00,7.0\n2026-06-27 10:00,7.0\n")
    assert status == 422
    assert "Line 3: 2026-06-27 10:00 (UTC) is still to come." in words(shown)


def test_many_bad_lines_are_folded_and_none_is_left_out(empty: World) -> None:
    bad = "".join(f"2026-05-04 00:{minute:02d},acid\n" for minute in range(50))
    status, _, shown = send(empty.local(), f"time,ph\n{bad}".encode())
    assert status == 422
    assert "30 more" in words(shown)
    assert len(re.findall(r"<li><strong>Line \d+:</strong>", shown)) == 50
    assert "<details open>" in shown  # how else it may be read


def test_no_file_and_no_log_are_refused_in_words(empty: World) -> None:
    browser = empty.local()
    for content in (b"", b"\x00\x01\x02\x03", b"a,b\n1,2\n"):
        status, _, shown = send(browser, content)
        assert status == 422
        assert 'role="alert"' in shown
    assert stored(empty) == 0


def test_a_name_with_markup_stays_a_name(empty: World) -> None:
    _, _, shown = send(empty.local(), csv_of(WEAKER, 1), "<b>log</b>.csv")
    assert "<b>log" not in shown


def test_a_file_is_kept_a_day_and_for_its_own_tank(empty: World) -> None:
    browser = empty.local()
    _, where, _ = send(browser, csv_of(WEAKER, 1))
    assert browser.get(where.replace("/log/", "/log/x")).status_code == 404
    empty.wall.pass_by(timedelta(hours=25))
    assert browser.get(where).status_code == 404


def test_a_year_of_minutes_is_not_too_large_for_the_gate(empty: World) -> None:
    browser = empty.local()
    form = tokens(browser.get(WATCH).text)
    large = b"x" * (17 * 1024 * 1024)
    answer = browser.post(f"{WATCH}/log", data=form, files={"file": ("log.csv", large, "text/csv")})
    assert answer.status_code == 413
    status, _, _ = send(browser, b"time,ph\n" + b"2026-05-04 00:00,7.00\n" * 600_000)
    assert status == 303


def test_the_page_follows_what_is_brought_in(empty: World) -> None:
    browser = empty.local()
    with open_store(empty.store) as store:
        store.add_samples("Rill", samples_of(Course()), "probe.csv")
    assert "Steady since Mon 4 May 2026" in words(browser.get(WATCH).text)


@pytest.fixture
def young(tmp_path: Path) -> World:
    return make_logged_world(tmp_path, Course(days=3))


def test_a_short_log_says_how_much_is_missing(young: World) -> None:
    assert re.search(r"Too early to say: \d whole gas days", young.local().get(WATCH).text)


def test_what_was_brought_in_is_listed_and_taken_back(empty: World) -> None:
    browser = empty.local()
    for days in (7, 8):
        _, where, _ = send(browser, csv_of(WEAKER, days), f"part-{days}.csv")
        confirm(browser, where)
    page = browser.get(WATCH).text
    told = words(page)
    assert "part-7.csv: 10,080 readings Mon 4 May 2026 to Sun 10 May 2026" in told
    assert "part-8.csv: 1,440 readings Mon 11 May 2026 to Mon 11 May 2026" in told
    last = re.findall(rf'action="({WATCH}/parts/\d+/withdraw)"', page)[0]
    answer = browser.post(last, data=tokens(page))
    assert answer.status_code == 303
    assert "Taken back: 1,440 readings no longer count." in words(
        browser.get(answer.headers["location"]).text
    )
    assert stored(empty) == 10080
    again = browser.post(last, data=tokens(page))
    assert again.status_code >= 400
    assert "dawnlevel" not in words(again.text).replace("Dawnlevel", "")
    assert stored(empty) == 10080


# --- without a probe ---


def test_a_keeper_without_a_probe_is_told_by_own_readings(tmp_path: Path) -> None:
    """A reading a day at one hour; from the change on the meter shows 0.25 more, as with a half less gas."""
    world = make_logged_world(tmp_path, None)
    readings = [
        PhReading(at=at(day, 11), ph=6.60 + 0.01 * (day % 2) + 0.25 * (day >= SINCE)) for day in range(1, 23)
    ]
    with open_store(world.store) as store:
        store.add_records("Rill", readings)
    page = world.local().get(WATCH).text
    answer = re.search(r'<p class="action">(.*?)</p>', page)
    assert answer is not None
    assert answer[1].startswith("Not as it was, since")
    assert f"Since {CHANGED:%a} {CHANGED.day} {CHANGED:%b %Y}" in words(page)
    assert "The one check:" in words(page)
    own = page.split('id="own-title"')[1].split("</section>")[0]
    assert own.count("<svg") == 2
    assert "pH with the gas on" in words(own)
    assert "dawnlevel" not in words(page).replace("Dawnlevel", "")


def test_without_any_reading_it_asks_for_those_that_matter(empty: World) -> None:
    page = empty.local().get(WATCH).text
    assert "Too few readings" in words(page)
    assert "What would tell more" in words(page)
