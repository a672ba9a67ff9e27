"""The hand-over: what is set is told, on paper and as a page, in the owner's units, the same every time."""

import json
import re
from dataclasses import replace
from datetime import timedelta
from io import BytesIO
from pathlib import Path

import numpy as np
import pikepdf
import pytest
from advice_world import at, brook, make_store, morning
from cli_keeper import Keeper
from jsonschema import validate
from scipy.integrate import solve_ivp
from web_browser import chromium, complaints, is_wider_than_screen, open_page, violations

from dawnlevel.chemistry import cell_ph
from dawnlevel.cli.render_json import envelope_schema
from dawnlevel.desk.casebook import open_case
from dawnlevel.desk.handover.handover import handover_view
from dawnlevel.desk.handover.handover_views import CellHourView, HandoverPack, HandoverView, Units
from dawnlevel.desk.handover.handover_words import in_units, wall_text, when
from dawnlevel.errors import BadInputError, NotEnoughRecordsError
from dawnlevel.estimate.priors import CELL_EDGES_PH, EYE_PH_SD
from dawnlevel.plan.assess import plan_next_day
from dawnlevel.plan.cell import colour_chances
from dawnlevel.plan.day import levels_ahead
from dawnlevel.report.brand import Brand, read_brand
from dawnlevel.report.paper import handover_pdf, handover_pngs
from dawnlevel.report.sheet import make_pack, make_sheet
from dawnlevel.report.web_page import handover_html
from dawnlevel.store import open_store
from dawnlevel.tank import (
    BufferCheck,
    CellColour,
    CylinderExchange,
    CylinderWeighing,
    FishSighting,
    FishState,
    OxygenReading,
    PhReading,
    Record,
    SolutionPrepared,
    SurveyReading,
    Target,
    TargetKind,
    TimerSetting,
)
from dawnlevel.units import MEQ_L_PER_DKH

MARK = b'<svg xmlns="http://www.w3.org/2000/svg" width="90" height="60"><rect width="90" height="60"/></svg>'


def alone(view: HandoverView) -> HandoverPack:
    """The hand-over of one tank."""
    return HandoverPack("", (view,))


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> str:
    more = (CylinderExchange(at=at(9), gas_kg=2.0), SolutionPrepared(at=at(9), kh_dkh=4.0))
    return make_store(tmp_path_factory.mktemp("handover") / "records.sqlite3", *more)


@pytest.fixture(scope="module")
def view(place: str) -> HandoverView:
    with open_store(place) as store:
        return handover_view(store, "Brook")


@pytest.fixture(scope="module")
def us_view(place: str) -> HandoverView:
    with open_store(place) as store:
        return handover_view(store, "Brook", Units.US)


@pytest.fixture(scope="module")
def pdf(view: HandoverView) -> pikepdf.Pdf:
    return pikepdf.open(BytesIO(handover_pdf(alone(view))))


def test_what_is_set_is_told_and_not_what_might_be(view: HandoverView) -> None:
    assert [(span.begins, span.ends) for span in view.gas] == [("09:30", "18:30")]
    assert (view.lights.begins, view.lights.ends) == ("13:00", "21:00")
    assert (view.rate_bps, view.count, view.count_s) == (1.8, 36, 20)
    assert view.as_of == at(11, 32)
    assert view.lights_on == at(13, day=7)
    gas = [span for span in view.picture.gas if span.opens.date() == at(9, day=7).date()]
    assert [(span.opens, span.closes) for span in gas] == [(at(9, 30, day=7), at(18, 30, day=7))]
    assert [one.title.split()[0] for one in view.dates] == ["Count", "Check", "Have", "Fresh"]
    assert view.dates == tuple(sorted(view.dates, key=lambda one: one.day))


def test_no_sentence_promises_anything(view: HandoverView) -> None:
    words = json.dumps(make_sheet(view), ensure_ascii=False).lower()
    assert not re.search(r"\bsafe(ly|ty)?\b", words.replace("labour-safety handbook", ""))
    assert "veterinarian" in words
    assert "gas supplier" in words


def test_nothing_asks_an_owner_for_a_command(tmp_path: Path) -> None:
    """On every page and in every picture, whatever is recorded, missing, old or at odds."""
    old = at(21, day=5)
    shelf = (
        CylinderExchange(at=old, gas_kg=2.0, tested="2015-01"),
        CylinderWeighing(at=at(9), gross_kg=3.0),
        CylinderWeighing(at=at(10), gross_kg=9.0),
        BufferCheck(at=at(9), low_ph=4.05, high_ph=6.95),
        SolutionPrepared(at=old, kh_dkh=4.0),
        OxygenReading(at=at(8), oxygen_mg_l=4.0),
        *(SurveyReading(at=at(11, 20 + n), ph=7.2, place=p) for n, p in enumerate(("left", "right", "back"))),
    )
    surveyed = [
        SurveyReading(at=at(12, n), ph=7.0 + 0.04 * n, place=place)
        for n, place in enumerate(("left", "right", "back", "front", "back right substrate"))
    ]
    short = TimerSetting(at=at(20, 12, day=5), windows_h=((9.5, 14.0),))
    enough = [PhReading(at=at(10, 30), ph=7.42), PhReading(at=at(12, 30), ph=7.21)]
    little = [PhReading(at=at(10, 30), ph=7.9), PhReading(at=at(12, 30), ph=7.8)]  # a drop of 0.3, not of 1.0
    cases: dict[str, list[Record]] = {
        "too short": [*morning()[:3], short, *enough],
        "too little": [*morning()[:4], *little],
        "shelf": [*morning(), *shelf],
        "survey": [*morning(), *surveyed],
        "long": [*morning(), *(PhReading(at=at(12) + timedelta(days=day), ph=7.1) for day in (60, 61, 240))],
    }
    for name, records in cases.items():
        path = tmp_path / f"{name}.sqlite3"
        with open_store(make_store(path, records=sorted(records, key=lambda one: one.at))) as store:
            words = handover_html(alone(handover_view(store, "Brook")))
        assert re.findall(r".{60}`?dawnlevel [a-z-]+.{20}", words) == [], name
        assert ("For whoever tunes this tank" in words) or "too" not in name


def test_chances_of_colours_are_those_of_the_lag_integrated(tmp_path: Path) -> None:
    """Against scipy's integrator for the cell's lag, draw by draw, and an eye that is drawn at random."""
    records = [*morning()[:4], PhReading(at=at(10, 30), ph=6.95), PhReading(at=at(11, 30), ph=6.62)]
    with open_store(make_store(tmp_path / "records.sqlite3", records=records)) as store:
        case = open_case(store, "Brook", at(11, 30))
    ahead, plan = plan_next_day(case.found, case.tank, case.records, case.now)
    draws = slice(0, 400, 40)
    few, luck = case.found.posterior.subset(draws), case.found.luck.subset(draws)
    levels = levels_ahead(few, luck, ahead, [plan.schedule])[:, 0, :]
    hours = [ahead.lights_on_h + hour for hour in (0.0, 2.0, 5.0)]
    told = colour_chances(few, ahead.hours, levels, hours)
    assert np.sum([told[colour] for colour in CellColour], axis=0) == pytest.approx(np.ones(3))
    eyes = EYE_PH_SD * np.random.default_rng(1).standard_normal(400)
    edges = np.concatenate(
        (few.model.timeline.edges_h, ahead.hours.edges_h[1:] + few.model.timeline.edges_h[-1])
    )
    found = np.zeros((4, 3))
    for draw in range(few.size):
        tank = np.concatenate((few.levels[:, draw], levels[1:, draw]))
        rise = few.unknowns["cell_lag_h"][draw]
        fall = rise * np.exp(few.unknowns["cell_fall_log"][draw])

        def slope(t: float, inside: np.ndarray, tank=tank, rise=rise, fall=fall) -> np.ndarray:  # type: ignore[no-untyped-def,type-arg]  # noqa: ANN001 - bound here
            gap = np.interp(t, edges, tank) - inside
            return np.where(gap > 0.0, gap / rise, gap / fall)

        at_h = [hour + few.model.timeline.edges_h[-1] for hour in hours]
        solved = solve_ivp(slope, (edges[0], edges[-1]), tank[:1], t_eval=at_h, max_step=0.25, rtol=1e-4)
        strength = few.model.cell_alkalinity_meq_l * np.exp(few.unknowns["cell_solution_log"][draw])
        ph = (
            cell_ph(solved.y[0], case.tank.temp_c, float(strength / MEQ_L_PER_DKH))
            + few.unknowns["cell_eye_ph"][draw]
        )
        named = np.array([(ph[:, None] + eyes < edge).mean(axis=1) for edge in CELL_EDGES_PH.values()])
        found += -np.diff(np.vstack((np.ones(3), named, np.zeros(3))), axis=0) / few.size
    for place, colour in enumerate(CellColour):
        assert told[colour] == pytest.approx(found[place], abs=0.03), colour


@pytest.mark.parametrize(
    ("colours", "rows"),
    [
        (("blue", "blue"), ["Cell lime or yellow", "Cell green"]),
        (("blue", "green"), ["Cell lime or yellow", "Cell still blue at 15:00"]),
        (("green", "lime"), ["Cell yellow", "Cell still blue at 15:00"]),
        (("lime", "yellow"), ["Cell yellow", "Cell still blue at 15:00"]),
    ],
)
def test_what_a_colour_asks_for_follows_from_what_is_expected(
    colours: tuple[str, str], rows: list[str]
) -> None:
    cell = [
        CellHourView(clock, name, 0.9, "") for clock, name in zip(("13:00", "15:00"), colours, strict=True)
    ]
    assert [row.seen for row in when(cell) if row.seen.startswith("Cell")] == rows


def test_the_same_records_give_the_same_bytes(view: HandoverView, place: str) -> None:
    with open_store(place) as store:
        again = handover_view(store, "Brook")
    assert again == view
    assert handover_pdf(alone(again)) == handover_pdf(alone(view))
    assert handover_html(alone(again)) == handover_html(alone(view))


def test_the_pdf_is_tagged_titled_and_carries_its_fonts(pdf: pikepdf.Pdf) -> None:
    """What PDF/UA-1 (ISO 14289-1) asks for and a machine can see."""
    root = pdf.Root
    assert bool(root.MarkInfo.Marked)
    assert str(root.Lang) == "en"
    assert bool(root.ViewerPreferences.DisplayDocTitle)
    with pdf.open_metadata() as told:
        assert told["dc:title"] == "CO2 plan for the tank Brook"
        assert told["pdfuaid:part"] == "1"
    for page in pdf.pages:
        assert page.Tabs == pikepdf.Name.S
        for font in page.resources.Font.values():
            held = font.DescendantFonts[0] if "/DescendantFonts" in font else font
            assert any(f"/FontFile{kind}" in held.FontDescriptor for kind in ("", "2", "3"))
            assert "/ToUnicode" in font
    tags = [str(tag.S) for tag in parts(root.StructTreeRoot.K)]
    assert tags.count("/H1") == 1
    assert {"/H2", "/Table", "/TH", "/TD", "/L", "/LI", "/Figure"} <= set(tags)
    figures = [tag for tag in parts(root.StructTreeRoot.K) if tag.S == "/Figure"]
    assert all("The picture shows about" in str(tag.Alt) for tag in figures)
    assert len(figures) == 1


def parts(tree: object) -> list[pikepdf.Dictionary]:
    """Every structure element under `tree`, in reading order."""
    if isinstance(tree, pikepdf.Array):
        return [part for one in tree for part in parts(one)]
    if isinstance(tree, pikepdf.Dictionary) and "/S" in tree:
        return [tree, *parts(tree.get("/K", pikepdf.Array()))]
    return []


def letters_pt(page: pikepdf.Page) -> list[float]:
    """Sizes of the letters on a page [pt]."""
    sizes, size, scale = [], 0.0, 1.0
    for operands, operator in pikepdf.parse_content_stream(page):
        if str(operator) == "Tf":
            size = float(operands[1])
        elif str(operator) == "Tm":
            scale = abs(float(operands[3]))
        elif str(operator) in {"Tj", "TJ"}:
            sizes.append(size * scale)
    return sizes


def test_the_door_can_be_read_at_a_metre(pdf: pikepdf.Pdf) -> None:
    """Capitals (0.66 em in this face) at least twice the 5 minutes of arc that normal sight tells apart
    (ISO 8596: visual acuity 1.0), the figures that are set at least five times."""
    acuity_mm = 1000.0 * np.tan(np.radians(5.0 / 60.0))
    capitals_mm = 0.66 * 25.4 / 72.0 * np.array(letters_pt(pdf.pages[0]))
    assert capitals_mm.size > 20
    assert capitals_mm.min() > 2.0 * acuity_mm
    assert np.sum(capitals_mm > 5.0 * acuity_mm) >= 3  # gas, lights, bubbles


def headings(pdf: pikepdf.Pdf) -> list[int]:
    """How many headings stand on each page."""
    numbers = {page.objgen: place for place, page in enumerate(pdf.pages)}
    found = [0] * len(pdf.pages)
    for tag in parts(pdf.Root.StructTreeRoot.K):
        if tag.S in {"/H1", "/H2"}:
            inside = tag.K if isinstance(tag.K, pikepdf.Array) else [tag.K]
            held = inside[0] if isinstance(inside[0], pikepdf.Dictionary) else tag
            found[numbers[held.Pg.objgen]] += 1
    return found


def test_the_door_is_one_page_however_much_stands_on_it(view: HandoverView, pdf: pikepdf.Pdf) -> None:
    assert headings(pdf)[0] == 3
    crowded = replace(
        view,
        tank="The long tank in the hall of the house by the river",
        units=Units.US,
        gas=tuple(view.gas * 8),
        cell=tuple(replace(one, clock="11:00 pm", colour="green", or_colour="lime") for one in view.cell),
        when=(*view.when, *view.when[:1]),
    )
    made = pikepdf.open(
        BytesIO(handover_pdf(alone(crowded), Brand("An invented consultant, 555-0100", MARK, "svg")))
    )
    assert headings(made)[0] == 3
    assert len(handover_pngs(alone(view), ppi=20.0)) == len(pdf.pages)


@pytest.mark.parametrize(
    "words", ["An invented consultant who plants and tunes, " * 2 + "555-0100", "wide" * 30]
)
@pytest.mark.parametrize("tank", ["Brook", "Ö" * 60])
@pytest.mark.parametrize("units", Units)
def test_long_words_of_a_consultant_leave_the_door_whole(
    view: HandoverView, words: str, tank: str, units: Units
) -> None:
    wide = MARK.replace(b"90", b"900")
    long = replace(view, tank=tank, units=units)
    made = pikepdf.open(BytesIO(handover_pdf(alone(long), Brand(words, wide, "svg"))))
    assert headings(made)[0] == 3
    right = float(made.pages[0].mediabox[2]) - 14.0 / 25.4 * 72.0
    assert max(begins_pt(made.pages[0])) < right


def begins_pt(page: pikepdf.Page) -> list[float]:
    """Where every line of letters begins, from the left [pt]."""
    found, moved, kept = [], 0.0, [0.0]
    for operands, operator in pikepdf.parse_content_stream(page):
        match str(operator):
            case "q":
                kept.append(moved)
            case "Q":
                moved = kept.pop()
            case "cm":
                moved += float(operands[4])
            case "Tm":
                found.append(moved + float(operands[4]))
    return found


@pytest.mark.parametrize("rate_bps", [0.1, 2.0, 9.0])
def test_the_ceiling_counts_through_the_whole_day_nobody_stepping_in(tmp_path: Path, rate_bps: float) -> None:
    """Held against the picture's own bands: what lies over the ceiling there is as likely in the chance."""
    records = [*morning()[:2], replace(morning()[2], bubbles_per_second=rate_bps), morning()[3]]  # type: ignore[call-arg]
    with open_store(make_store(tmp_path / "records.sqlite3", records=records)) as store:
        view = handover_view(store, "Brook")
    curve, ceiling = view.picture.curve, view.band.ceiling_mg_l
    for share, line in (
        (0.5, curve.median),
        (0.75, curve.low_50),
        (0.25, curve.high_50),
        (0.05, curve.high_90),
    ):
        if max(line) > ceiling:
            assert view.chance_breach >= share - 0.01
    if max(curve.high_90) < ceiling:
        assert view.chance_breach < 0.5
    told = make_sheet(view)["notes"]
    assert any("passes the ceiling" in note for note in told) == (view.chance_breach > 0.02)
    assert {0.1: view.chance_breach < 0.02, 2.0: True, 9.0: view.chance_breach > 0.8}[rate_bps]


def test_the_door_tells_the_target_and_not_what_is_expected(view: HandoverView, tmp_path: Path) -> None:
    """The cup reads 8.10, so a drop of 1.00 to 1.20 is pH 6.90 to 7.10 on the same meter."""
    low, high = view.band.low_in_other, view.band.high_in_other
    assert low is not None
    assert high is not None
    assert make_sheet(view)["door"]["target"] == [
        "pH drop 1.00 to 1.20",
        f"CO2 about {low.median:.0f} to {high.median:.0f} mg/L",
        "pH meter 6.90 to 7.10",
        "Ceiling 30 mg/L",
    ]
    with open_store(str(tmp_path / "records.sqlite3")) as store:
        store.add_tank(brook(Target(kind=TargetKind.CO2, low=20.0, high=25.0)), at(12, day=5))
        store.add_records("Brook", [morning()[0], *morning()[2:]])
        in_mg_l = make_sheet(handover_view(store, "Brook"))["door"]["target"]
    assert in_mg_l == ["CO2 20 to 25 mg/L", "Ceiling 30 mg/L"]


def test_gas_half_a_day_before_the_lights_is_handed_over_too(tmp_path: Path) -> None:
    records = [*morning()[:3], TimerSetting(at=at(20, 11, day=5), windows_h=((1.0, 10.0),)), *morning()[4:]]
    with open_store(make_store(tmp_path / "records.sqlite3", records=records)) as store:
        view = handover_view(store, "Brook")
    gas = [span for span in view.picture.gas if span.opens > view.as_of]
    assert [(span.opens, span.closes) for span in gas] == [(at(1, day=7), at(10, day=7))]


def test_meter_and_cell_stand_under_their_own_names(view: HandoverView) -> None:
    names = [row.name for row in view.evidence.gear]
    assert len(names) == len(set(names))
    assert {"pH meter", "Indicator cell"} <= set(names)


def test_the_us_pack_speaks_us_units(us_view: HandoverView, view: HandoverView) -> None:
    """112 L is 29.6 gal (231 cubic inches each), 36 cm 14.2 in, 25 degC 77 degF; discs 2650 to 3000 psi."""
    told = json.dumps(make_pack(alone(us_view)), ensure_ascii=False)
    for words in (
        "29.6 US gal, 14.2 in deep",
        "77 °F",
        "9:30 am",
        "6:30 pm",
        "2650 to 3000 psi",
        "us-letter",
    ):
        assert words in told, words
    for metric in ("°C", " bar", " kg", "112 L"):
        assert metric not in told
    sheet = make_sheet(us_view)
    assert sheet["as_of"].endswith("11:32 am")
    outside_pictures = {key: told for key, told in sheet.items() if not key.startswith(("picture", "spread"))}
    assert not re.findall(r"\b\d\d:\d\d\b(?! [ap]m)", json.dumps(outside_pictures))
    assert make_pack(alone(view))["paper"] == "a4"
    assert in_units("below 52 °C", Units.US) == "below 125 °F"  # 125.6: a limit is not rounded up
    assert in_units("up to 25 g and 0.75 g/cm3", Units.US) == "up to 0.9 oz and 0.75 g/cm3"
    clocks = {0.0: "12:00 am", 12.0: "12:00 pm", 13.5: "1:30 pm", 24.0: "12:00 am", 23.999: "12:00 am"}
    assert {hour: wall_text(hour, Units.US) for hour in clocks} == clocks


def test_the_page_needs_nothing_else(view: HandoverView) -> None:
    page = handover_html(alone(view), read_brand("An invented <consultant>", MARK, "mark.svg"))
    assert "<script" not in page
    assert " style=" not in page
    assert not re.search(r"(src|href)=\"(?!data:)", page)
    assert "An invented &lt;consultant&gt;" in page
    sheet = make_sheet(view)
    for words in (*sheet["weekly"], sheet["verdict"].split(".")[0], sheet["door"]["count"]):
        assert words in page


def test_the_page_in_a_browser(view: HandoverView, tmp_path: Path) -> None:
    file = tmp_path / "plan.html"
    file.write_text(
        handover_html(alone(view), Brand("An invented consultant", MARK, "svg")), encoding="utf-8"
    )
    with chromium() as browser:
        page = open_page(browser)
        found = complaints(page)
        page.goto(file.as_uri())
        assert violations(page) == []
        assert not is_wider_than_screen(page)
        assert found == []


def test_nothing_is_handed_over_that_is_not_set_or_while_fish_suffer(tmp_path: Path) -> None:
    for name in "abc":
        (tmp_path / name).mkdir()
    bare = make_store(tmp_path / "a" / "r.sqlite3", records=[*morning()[:2], morning()[4]])
    never = make_store(tmp_path / "b" / "r.sqlite3", TimerSetting(at=at(11, 40), windows_h=()))
    ill = make_store(tmp_path / "c" / "r.sqlite3", FishSighting(at=at(11, 40), state=FishState.DISTRESS))
    for place, kind, words in (
        (bare, NotEnoughRecordsError, "No gas timer and needle"),
        (never, NotEnoughRecordsError, "No gas timer and needle"),
        (ill, BadInputError, "in distress"),
    ):
        with open_store(place) as store, pytest.raises(kind, match=words):
            handover_view(store, "Brook")


@pytest.mark.parametrize("content", [b"", b"GIF89a", b"<html>", b"x" * 6_000_000])
def test_a_picture_that_is_none_is_refused(content: bytes) -> None:
    with pytest.raises(BadInputError):
        read_brand("", content, "mark.png")


def test_the_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    keeper = Keeper(tmp_path, monkeypatch, capsys)
    make_store(tmp_path / "records.db")
    (tmp_path / "mark.svg").write_bytes(MARK)
    for name in ("plan.pdf", "plan.html"):
        told = keeper(f"handover -o {tmp_path / name} --units us --brand-image {tmp_path / 'mark.svg'}")
        assert told.code == 0, told.err
        assert f"written to {tmp_path / name}" in told.out
        assert (tmp_path / name).stat().st_size > 10_000
    first = (tmp_path / "plan.pdf").read_bytes()
    monkeypatch.setenv("TZ", "Asia/Tokyo")
    keeper(f"handover -o {tmp_path / 'plan.pdf'} --units us --brand-image {tmp_path / 'mark.svg'}")
    assert (tmp_path / "plan.pdf").read_bytes() == first
    asked = keeper("handover --json")
    validate(json.loads(asked.out), envelope_schema("handover", HandoverView))
    for line, words in (
        ("handover", "No file is named"),
        (f"handover -o {tmp_path / 'plan.doc'}", "does not end in"),
        (f"handover -o {tmp_path / 'x.pdf'} --brand-image {tmp_path / 'no.png'}", "cannot be read"),
    ):
        said = keeper(line)
        assert said.code != 0
        assert words in said.err
    said = keeper(f"handover -o {tmp_path / 'x.pdf'} --brand-text", "水")
    assert "letters cannot be printed" in said.err
    (tmp_path / "mark.svg").write_bytes(b"<svg broken")
    said = keeper(f"handover -o {tmp_path / 'x.pdf'} --brand-image {tmp_path / 'mark.svg'}")
    assert "picture cannot be read" in said.err
    assert not (tmp_path / "x.pdf").exists()
