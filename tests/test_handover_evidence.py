"""What a hand-over rests on: the same figures as the pages they come from, told in words, tagged on paper."""

import dataclasses
import json
import re
from io import BytesIO
from itertools import pairwise
from pathlib import Path

import pdfua
import pikepdf
import pytest
from advice_world import at, brook, make_store
from test_handover import alone, parts
from test_watching import NOW, kept, logged
from web_browser import chromium, is_wider_than_screen, open_page, violations

from dawnlevel.desk.animals.oxygen import oxygen_view
from dawnlevel.desk.animals.whatif import whatif_view
from dawnlevel.desk.casebook import open_case
from dawnlevel.desk.evenness.spread import spread_view
from dawnlevel.desk.handover.handover import handover_view, owner_handover
from dawnlevel.desk.handover.handover_evidence import evidence_of
from dawnlevel.desk.handover.handover_views import HandoverView, Units
from dawnlevel.desk.steadiness.steadiness import steadiness_view
from dawnlevel.report.brand import Brand
from dawnlevel.report.paper import handover_pdf
from dawnlevel.report.sheet import make_sheet
from dawnlevel.report.spread_chart import ink_on, say_spread, spread_svg
from dawnlevel.report.web_page import handover_html
from dawnlevel.store import open_store
from dawnlevel.tank import (
    AnimalKind,
    Animals,
    BaselineCup,
    BaselineMethod,
    PhReading,
    RateSetting,
    Record,
    SurveyReading,
)

PLACES = (
    "front left surface", "front right surface", "back left substrate", "back right substrate",
    "front left substrate", "front right substrate", "back left surface", "back right surface", "middle",
)  # fmt: skip


def walk() -> list[Record]:
    """A survey in which one corner stands 0.3 pH above the rest: half its CO2."""
    return [
        SurveyReading(at=at(11, 35 + number), ph=6.97 if "back left substrate" in name else 6.67, place=name)
        for number, name in enumerate(PLACES)
    ]


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> str:
    found = make_store(tmp_path_factory.mktemp("evidence") / "records.sqlite3", *walk())
    animals = (Animals(AnimalKind.FISH, 12, 1.5), Animals(AnimalKind.SHRIMP, 20, 0.25))
    with open_store(found) as store:
        described = dataclasses.replace(brook(), animals=animals, co2_limit_mg_l=20.0, owner="Lower School")
        store.update_tank(described, at(11, 50))
        store.add_tank(dataclasses.replace(brook(), name="Cellar", owner="Lower School"), at(8))
    return found


@pytest.fixture(scope="module")
def view(place: str) -> HandoverView:
    with open_store(place) as store:
        return handover_view(store, "Brook")


@pytest.fixture(scope="module")
def us_view(place: str) -> HandoverView:
    with open_store(place) as store:
        return handover_view(store, "Brook", Units.US)


def test_the_figures_are_those_of_the_pages_they_come_from(place: str, view: HandoverView) -> None:
    seen = view.evidence
    with open_store(place) as store:
        spread = spread_view(store, "Brook", view.as_of)
        oxygen = oxygen_view(store, "Brook", view.as_of)
        steady = steadiness_view(store, "Brook", view.as_of)
    assert seen.spread == spread
    assert seen.steady[0] == steady.answer
    assert seen.oxygen[0].value.startswith(f"{oxygen.minimum_mg_l.median:.1f} mg/L, at about ")
    assert oxygen.verdict in seen.care
    assert seen.probe == ()
    assert set(spread.sources) <= set(view.sources)
    assert set(oxygen.sources) <= set(view.sources)


def test_the_dead_corner_is_named_with_its_figures(view: HandoverView) -> None:
    """0.3 pH above the rest at one KH means 10^-0.3 of its CO2: half is missing there."""
    spread = view.evidence.spread
    assert spread is not None
    (zone,) = spread.dead_zones
    assert zone.shortfall_percent.low_90 < 100.0 * (1.0 - 10.0**-0.3) < zone.shortfall_percent.high_90 + 3.0
    told = " ".join(view.evidence.spread_says)
    for words in (
        "9 places between 11:35 and 11:43",
        "Dead zone back left substrate",
    ):
        assert words in told
    assert f"{zone.shortfall_percent.median:.0f} (nine in ten: " in told
    assert "Worst corner" not in told  # it is the dead zone, told once


def test_animals_and_their_ceilings_are_told_with_their_evidence(view: HandoverView) -> None:
    rows = {one.name: one.value for one in view.evidence.animals}
    assert rows["Animals"] == "12 fish of 1.5 g, 20 shrimp of 0.25 g"
    assert rows["CO2 for shrimp"].startswith(
        "20 mg/L at most, a precaution. No figure found for dwarf shrimp"
    )
    assert rows["Ceiling of the plan"] == "20 mg/L"


def test_in_us_units_nothing_metric_is_left(us_view: HandoverView) -> None:
    """1.5 g is 0.053 oz (28.3495 g each, NIST Handbook 44)."""
    told = json.dumps({**make_sheet(us_view), "sources": []}, ensure_ascii=False)
    words = re.sub(r"<svg.*?</svg>", "", told)
    assert "12 fish of 0.053 oz" in words
    assert "between 11:35 am and 11:43 am" in words
    assert not re.search(r"\d (g|kg|cm|°C|bar)\b(?!/)", words)


def test_what_a_probe_logged_is_told_as_its_page_tells_it() -> None:
    with kept("sqlite://") as store:
        store.add_samples("Brook", logged(), "log.csv")
        cup = BaselineCup(at=NOW, ph=8.1, method=BaselineMethod.AERATED, hours=2.0)
        store.add_records(
            "Brook", [cup, RateSetting(at=NOW, bubbles_per_second=1.5), PhReading(at=NOW, ph=7.1)]
        )
        seen, _ = evidence_of(store, open_case(store, "Brook", NOW), Units.METRIC)
    assert seen.probe[0].startswith("A probe's log from 4 May 2026 to ")
    assert "Not steady: since " in seen.probe[0]
    assert seen.probe[1].startswith("The gas opens late")
    assert "19 May" in seen.probe[1]
    assert not [line for line in (*seen.steady, *seen.probe) if "dawnlevel" in line]


def test_letters_on_every_colour_of_the_map_can_be_told() -> None:
    """Contrast of 4.5 at least (WCAG 2.2, 1.4.3), worked out here from the colours that are drawn."""

    def luminance(colour: str) -> float:
        parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
        bent = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts]
        return 0.2126 * bent[0] + 0.7152 * bent[1] + 0.0722 * bent[2]

    for step in range(101):
        share = step / 100
        mixed = [
            round(
                int("f3e7c3"[place : place + 2], 16) * (1 - share)
                + int("1f6f78"[place : place + 2], 16) * share
            )
            for place in (0, 2, 4)
        ]
        ground, ink = luminance("#" + "".join(f"{one:02x}" for one in mixed)), luminance(ink_on(share))
        lighter, darker = max(ground, ink), min(ground, ink)
        assert (lighter + 0.05) / (darker + 0.05) >= 4.49, share


def test_the_map_stands_on_paper_and_page_with_its_words(view: HandoverView, tmp_path: Path) -> None:
    assert view.evidence.spread is not None
    words = say_spread(view.evidence.spread)
    made = pikepdf.open(BytesIO(handover_pdf(alone(view))))
    figures = [str(tag.Alt) for tag in parts(made.Root.StructTreeRoot.K) if tag.S == "/Figure"]
    assert words in figures
    assert len(re.findall(r">\d+ ± \d+<", spread_svg(view.evidence.spread))) == 56
    page = handover_html(alone(view))
    assert words.partition(". ")[2] in page
    file = tmp_path / "plan.html"
    file.write_text(page, encoding="utf-8")
    with chromium() as browser:
        shown = open_page(browser)
        shown.goto(file.as_uri())
        assert violations(shown) == []
        assert not is_wider_than_screen(shown)


# --- PDF/UA-1 (ISO 14289-1), what a machine can see ---


@pytest.fixture(scope="module", params=["alone", "us", "owner"])
def paper(request: pytest.FixtureRequest, place: str, view: HandoverView, us_view: HandoverView) -> bytes:
    if request.param == "owner":
        with open_store(place) as store:
            return handover_pdf(owner_handover(store, "Lower School"), Brand("An invented consultant"))
    return handover_pdf(alone(view if request.param == "alone" else us_view))


def test_the_checker_for_pdf_ua_finds_nothing(paper: bytes, tmp_path: Path) -> None:
    """The library checks 16 of the profile's 106 rules: tree, marks, language, alternatives, tables, links,
    title; the tests below add headings, header cells, fonts and tab order."""
    file = tmp_path / "plan.pdf"
    file.write_bytes(paper)
    report = pdfua.validate(str(file))
    assert [f"{one.rule_id} {one.message}" for one in report.findings] == []


def test_headings_do_not_skip_and_header_cells_say_what_they_head(paper: bytes) -> None:
    """ISO 14289-1, 7.4.2 and 7.5; tab order 7.18.3; every font embedded with its letters told 7.21."""
    made = pikepdf.open(BytesIO(paper))
    tags = parts(made.Root.StructTreeRoot.K)
    levels = [int(str(tag.S)[2:]) for tag in tags if re.fullmatch(r"/H[1-6]", str(tag.S))]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    heads = [tag for tag in tags if tag.S == "/TH"]
    assert len(heads) > 10
    for head in heads:
        held = head.get("/A", pikepdf.Array())
        found = held if isinstance(held, pikepdf.Array) else [held]
        assert any(str(one.get("/Scope", "")) in {"/Column", "/Row", "/Both"} for one in found)
    for page in made.pages:
        assert page.Tabs == pikepdf.Name.S
        for font in page.resources.get("/Font", {}).values():
            inner = font.DescendantFonts[0] if "/DescendantFonts" in font else font
            assert any(f"/FontFile{kind}" in inner.FontDescriptor for kind in ("", "2", "3"))
            assert "/ToUnicode" in font


def test_faults_are_those_of_the_page_the_worst_first(place: str, view: HandoverView) -> None:
    with open_store(place) as store:
        found = whatif_view(store, "Brook", view.as_of)
    rows = {one.name.lower(): one.value for one in view.evidence.faults}
    assert set(rows) == {one.what.lower() for one in found.faults}
    for one in found.faults:
        assert f"CO2 up to {one.outcome.peak_mg_l.median:.0f} mg/L" in rows[one.what.lower()]
        assert one.seen in rows[one.what.lower()]
    worst = max(found.faults, key=lambda one: (one.outcome.to_ceiling.chance, one.outcome.peak_mg_l.median))
    assert view.evidence.faults[0].name.lower() == worst.what.lower()
    assert set(found.sources) <= set(view.sources)


def test_gas_room_and_meter_are_told_in_the_units_asked_for(
    view: HandoverView, us_view: HandoverView
) -> None:
    """2 kg in a closed room of 30 m3 make 3.6 % (mass over 1.839 kg/m3, pushed out as it comes); 18 % low."""
    metric, us = (" ".join(f"{row.name} {row.value}" for row in one.evidence.gear) for one in (view, us_view))
    for words in (
        "2 kg of gas vents",
        "3.6 % CO2 in a closed room of 30 m3",
        "up to 18 %",
        "CO2 alarm warns",
    ):
        assert words in metric
    assert "4.41 lb of gas vents" in us
    assert "1059 cubic feet" in us
    assert "No buffers are recorded" in metric
    clocks = " ".join(one.name for one in us_view.evidence.faults)
    assert "pm" in clocks
    assert not re.search(r"\b1[3-9]:\d\d|\b2\d:\d\d", clocks)
