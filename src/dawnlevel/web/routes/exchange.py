"""Files of records out of a tank and in again."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

import json
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.datastructures import UploadFile
from starlette.responses import Response

from dawnlevel.desk.exchange.archive import ARCHIVE_SCHEMA, export_archive, import_archive, read_archive
from dawnlevel.desk.exchange.exchange import export_table, import_table
from dawnlevel.errors import BadInputError, BadLine, BadLinesError, DawnlevelError
from dawnlevel.web.fields import Form
from dawnlevel.web.house import AtTank, House, TheHouse, TheTank
from dawnlevel.web.routes.records import Asked, show_records

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@dataclass(frozen=True, slots=True)
class Sent:
    """A file that was sent."""

    name: str
    content: bytes


async def sent_file(request: Request) -> Sent:
    """The form's file; an empty one where none was chosen."""
    file = (await request.form()).get("file")
    if not isinstance(file, UploadFile):
        return Sent("", b"")
    return Sent(file.filename or "file", await file.read())


@router.get("/tanks/{key}/records.csv", name="export_csv")
def export_csv(house: TheHouse, tank: TheTank) -> Response:
    """What stands, as a table."""
    return _download(export_table(house.store, [tank.name]), "text/csv", tank, "csv")


@router.get("/tanks/{key}/records.json", name="export_json")
def export_json(house: TheHouse, tank: TheTank) -> Response:
    """Everything with corrections and withdrawals, as an archive."""
    data = {"schema": ARCHIVE_SCHEMA, "data": export_archive(house.store, [tank.name])}
    return _download(json.dumps(data, ensure_ascii=False, indent=1) + "\n", "application/json", tank, "json")


def _download(text: str, kind: str, tank: AtTank, ending: str) -> Response:
    name = quote(f"{tank.name}.{ending}", safe="")
    return Response(
        text,
        media_type=f"{kind}; charset=utf-8",
        headers={"Content-Disposition": f"attachment; filename*=UTF-8''{name}"},
    )


@router.post("/tanks/{key}/import", name="import")
def import_file(
    request: Request, house: TheHouse, tank: TheTank, sent: Annotated[Sent, Depends(sent_file)]
) -> Response:
    """Every record of a file, or none; all lines that cannot be taken are shown together."""
    try:
        told = _import(house, tank, sent)
    except BadLinesError as error:
        return show_records(request, house, tank, Form(), status=422, asked=Asked(bad=error.lines))
    except DawnlevelError as error:
        bad = [BadLine(0, error.what, error.cure)]
        return show_records(request, house, tank, Form(), status=422, asked=Asked(bad=bad))
    return RedirectResponse(tank.path(f"/records?done={told}"), status_code=303)


def _import(house: House, tank: AtTank, sent: Sent) -> str:
    """Bring the file in; what to say then, as the page knows it."""
    if not sent.content.strip():
        raise BadInputError("The file is empty, or none was chosen.", where="import", cure="Choose a file.")
    if sent.content.lstrip().startswith(b"{"):
        merged = import_archive(house.store, read_archive(sent.content, sent.name), sent.name)
        names, count = merged.touched, sum(merged.entries.values())
    else:
        report = import_table(house.store, sent.content, sent.name, tank.now, tank.name)
        names, count = list(report.added), report.added_total
    for name in names:
        house.changed(name)
    return f"imported-{count}"
