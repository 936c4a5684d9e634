"""The phone's two calls: send entries, fetch the pack."""

import hashlib
import json
from typing import Annotated

from fastapi import Depends, Request, Response
from fastapi.responses import JSONResponse

from app.errors import BadInput
from app.language.clock import iso
from app.records.database import utc_now
from app.services.sites import accounts
from app.services.sync import accept as sync
from app.services.sync.pack import pack
from app.web.bodies import largest
from app.web.deps import PersonDep, SessionDep
from app.web.guard import by_token, cookie_name, everyone, guarded_router
from app.web.render import fresh_json

router = guarded_router()

LONGEST_WHOLE_NUMBER = 19
LARGEST_BODY = 8 * 1024 * 1024  # 200 entries with room to spare; photos travel on their own


async def body_json(request: Request) -> object:
    """Read a JSON body; its size is the route's.

    Raises
    ------
    BadInput
        When it is too large or no JSON.
    """
    body = await request.body()
    try:
        content: object = json.loads(body, parse_int=whole_number)
    except (ValueError, RecursionError):
        raise BadInput("body", "", "not JSON", "Reload Sillbook on the phone.") from None
    return content


def whole_number(digits: str) -> int | float:
    """Read a whole number; past what any table holds as a float, so that one entry is refused."""
    return int(digits) if len(digits) <= LONGEST_WHOLE_NUMBER else float(digits)


@router.post("/sync")
@everyone
@by_token("write")
@largest(LARGEST_BODY, "Send fewer entries at a time.")
def receive(
    session: SessionDep, person: PersonDep, content: Annotated[object, Depends(body_json)]
) -> Response:
    received_at = utc_now()
    batch = sync.batch_of(content)
    receipts = sync.accept(session, person, batch, received_at)
    return fresh_json(
        {
            "protocol": sync.PROTOCOL,
            "server_epoch": sync.server_epoch(session),
            "received_at": iso(received_at),
            "receipts": [receipt.as_dict() for receipt in receipts],
        }
    )


@router.get("/pack")
@everyone
def get_pack(request: Request, session: SessionDep, person: PersonDep) -> Response:
    """Answer the whole pack, or 304 when the phone's copy is still true.

    The `since` that phones send is not needed: a pack of a few dozen sites is small, and a whole
    one cannot be stale in parts.
    """
    content = pack(session, person, utc_now(), demo=request.app.state.settings.demo)
    token = request.cookies.get(cookie_name(request.app.state.settings.https), "")
    content["sign_in"] = accounts.sign_in_mark(token)
    made_at = content.pop("made_at")
    tag = f'"{hashlib.sha256(sync.canonical_json(content).encode()).hexdigest()[:32]}"'
    headers = {"cache-control": "no-cache", "etag": tag}
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers=headers)
    return JSONResponse(content | {"made_at": made_at}, headers=headers)
