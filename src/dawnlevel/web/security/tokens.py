"""Form tokens: what changes something must come from a page of ours that this device was given."""

from collections.abc import Mapping
from typing import Annotated

from fastapi import Depends, Request
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException

from dawnlevel.web.house import house_of
from dawnlevel.web.security.gate import UNSAFE_METHODS, is_open

FIELD = "form_token"
HEADER = "X-Dawnlevel-Token"


async def posted(request: Request) -> dict[str, str]:
    """The texts of a posted form by their names, files left out, the last of each name."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in {"application/x-www-form-urlencoded", "multipart/form-data"}:
        return {}
    form = await request.form()
    return {name: text for name, text in form.multi_items() if not isinstance(text, UploadFile)}


async def guarded(request: Request) -> None:
    """Refuse, with 403, what would change something without this device's form token.

    Every router is included with this dependency; the pairing page, which has no session yet, is let pass.
    """
    if request.method not in UNSAFE_METHODS or is_open(request.url.path):
        return
    device = request.scope["state"].get("device")
    given = request.headers.get(HEADER) or (await posted(request)).get(FIELD, "")
    if device is None or not house_of(request).sessions.is_form_token(device.id, given):
        raise HTTPException(403, "This form is out of date. Open the page anew, then send it again.")


Posted = Annotated[Mapping[str, str], Depends(posted)]
