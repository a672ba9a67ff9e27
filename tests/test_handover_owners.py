"""The hand-over of an owner: all of their tanks in one file, nothing of another's, and what is left out."""

import dataclasses
import json
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from advice_world import at, brook, make_store, morning
from cli_keeper import Keeper
from jsonschema import validate
from web_browser import chromium, complaints, is_wider_than_screen, open_page, violations

from dawnlevel.cli.render_json import envelope_schema
from dawnlevel.desk.handover.handover import handover_view, owner_handover
from dawnlevel.desk.handover.handover_views import HandoverPack
from dawnlevel.errors import NoSuchOwnerError, NotEnoughRecordsError
from dawnlevel.report.brand import Brand
from dawnlevel.report.paper import handover_pdf
from dawnlevel.report.sheet import make_pack
from dawnlevel.report.web_page import handover_html
from dawnlevel.store import open_store
from dawnlevel.tank import CylinderExchange, FishSighting, FishState

SCHOOL, VALE = "Lower School", "Dr Vale"
BRAND = Brand("An invented consultant, 555-0100")


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Brook and Pond of the school, Cellar of the school with nothing set, Fen of Dr Vale's."""
    found = make_store(tmp_path_factory.mktemp("owners") / "records.sqlite3")
    with open_store(found) as store:
        store.update_tank(dataclasses.replace(brook(), owner=SCHOOL), at(11, 40))
        for name, owner in (("Pond", SCHOOL), ("Cellar", SCHOOL), ("Fen", VALE)):
            store.add_tank(
                dataclasses.replace(brook(), name=name, owner=owner, limit_reason="#" + name), at(8)
            )
        for name in ("Pond", "Fen"):
            marked = [dataclasses.replace(one, note=f"seen at {name}") for one in morning()]
            store.add_records(name, [*marked, CylinderExchange(at=at(9), gas_kg=2.0, note=f"from {name}")])
    return found


@pytest.fixture(scope="module")
def pack(place: str) -> HandoverPack:
    with open_store(place) as store:
        return owner_handover(store, "lower  school")


def test_every_tank_of_the_owner_and_no_other_is_in_it(place: str, pack: HandoverPack) -> None:
    assert (pack.owner, [view.tank for view in pack.tanks]) == (SCHOOL, ["Brook", "Pond"])
    assert [one.tank for one in pack.left_out] == ["Cellar"]
    assert pack.left_out[0].why
    with open_store(place) as store:
        assert pack.tanks[0] == handover_view(store, "Brook")
        vale = owner_handover(store, VALE)
        with pytest.raises(NoSuchOwnerError):
            owner_handover(store, "Nobody")
    for one, others in ((pack, ("Fen", VALE)), (vale, ("Brook", "Pond", "Cellar", SCHOOL))):
        for text in (json.dumps(make_pack(one, BRAND)), handover_html(one, BRAND)):
            assert not [word for word in others if word in text]
            assert all(view.tank in text for view in one.tanks)


def test_an_owner_without_a_tank_to_hand_over_is_told_why(tmp_path: Path) -> None:
    ill = FishSighting(at=at(11, 40), state=FishState.DISTRESS)
    with open_store(make_store(tmp_path / "records.sqlite3", ill)) as store:
        store.update_tank(dataclasses.replace(brook(), owner=VALE), at(11, 45))
        with pytest.raises(
            NotEnoughRecordsError, match=r"None of the tanks of Dr Vale .*Brook: The fish are"
        ):
            owner_handover(store, VALE)


def test_on_paper_each_tank_begins_with_a_door_of_one_page(pack: HandoverPack) -> None:
    made = pikepdf.open(BytesIO(handover_pdf(pack, BRAND)))
    with made.open_metadata() as told:
        assert told["dc:title"] == f"CO2 plans for the tanks of {SCHOOL}"
        assert told["pdfuaid:part"] == "1"
    with made.open_outline() as outline:
        tops = [(item.title, _page(made, item)) for item in outline.root]
        inner = [[(one.title, _page(made, one)) for one in item.children] for item in outline.root]
    assert [title for title, _ in tops] == ["CO2 plan for the tank Brook", "CO2 plan for the tank Pond"]
    assert tops[0][1] == 1  # after the first page
    for (_, page), parts in zip(tops, inner, strict=True):
        assert [title for title, at_page in parts if at_page == page] == [
            "The indicator cell should look like this",
            "What to do when",
        ]
        assert min(at_page for _, at_page in parts[2:]) == page + 1
    assert handover_pdf(pack, BRAND) == handover_pdf(pack, BRAND)


def _page(made: pikepdf.Pdf, item: pikepdf.OutlineItem) -> int:
    """The number of the page an outline's entry leads to, from 0."""
    where = item.destination if item.destination is not None else item.action.D
    assert isinstance(where, pikepdf.Array)
    numbers = {page.objgen: place for place, page in enumerate(made.pages)}
    return numbers[where[0].objgen]


def test_one_tank_alone_has_no_first_page(pack: HandoverPack) -> None:
    alone = HandoverPack(SCHOOL, pack.tanks[:1])
    assert make_pack(alone)["lead"] == ""
    assert len(pikepdf.open(BytesIO(handover_pdf(alone))).pages) < len(
        pikepdf.open(BytesIO(handover_pdf(HandoverPack(SCHOOL, pack.tanks[:1], pack.left_out)))).pages
    )


def test_the_page_of_several_tanks_in_a_browser(pack: HandoverPack, tmp_path: Path) -> None:
    file = tmp_path / "plans.html"
    file.write_text(handover_html(pack, BRAND), encoding="utf-8")
    with chromium() as browser:
        page = open_page(browser)
        found = complaints(page)
        page.goto(file.as_uri())
        assert violations(page) == []
        assert not is_wider_than_screen(page)
        assert found == []


def test_the_command(
    place: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    keeper = Keeper(tmp_path, monkeypatch, capsys)
    monkeypatch.setenv("DAWNLEVEL_STORE", place)
    out = tmp_path / "school.pdf"
    told = keeper(f"handover -o {out} --owner", SCHOOL)
    assert told.code == 0, told.err
    assert told.err == "Brook ...\nPond ...\nCellar ...\n"
    assert told.out.startswith(f"Hand-over of Brook, Pond written to {out}.\n")
    assert "Left out: Cellar. " in told.out
    asked = keeper("handover --json --owner", SCHOOL)
    validate(json.loads(asked.out), envelope_schema("owner-handover", HandoverPack))
    assert "Fen" not in asked.out
    assert keeper(f"handover -o {out} --tank Fen --owner", SCHOOL).code == 2
