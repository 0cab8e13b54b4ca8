"""The fields of a form as they came: texts only, not too many; what is no form is refused in a sentence."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request

#: A text of a form may have so many bytes.
MOST_BYTES = 2 * 2**20
EMPTY = "This form came empty; nothing was changed. Open the view again and send it once more."


@asynccontextmanager
async def form_of(request: Request, most_fields: int, most_files: int = 0) -> AsyncIterator[FormData]:
    """The form of a request while its files are open. Raises HTTPException 400 where it is none, or empty."""
    try:
        form = await request.form(max_files=most_files, max_fields=most_fields, max_part_size=MOST_BYTES)
    except HTTPException as refused:  # with a word of the library's own
        raise HTTPException(refused.status_code) from None
    except (ValueError, LookupError):  # what the parser does not understand, letters of a coding that is none
        raise HTTPException(400) from None
    try:
        if not form:
            raise HTTPException(400, EMPTY)
        yield form
    finally:
        await form.close()


async def texts_of(request: Request, most_fields: int) -> list[tuple[str, str]]:
    """Names and texts of a form, in their order. Raises HTTPException 400 where it is none, or empty."""
    async with form_of(request, most_fields) as form:
        return [(name, text) for name, text in form.multi_items() if isinstance(text, str)]
