"""Files that come with a form: read off the request within stated limits, whatever they are called."""

from __future__ import annotations

from collections.abc import AsyncIterator
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import Depends, Request
from starlette.datastructures import UploadFile

from webapp.forms.kit import raw_of
from webapp.security import MOST_BODY_BYTES
from webapp.store.engine import plain_trouble
from webapp.store.errors import CannotSave

MOST_PARTS = 60
LONGEST_NAME_SHOWN = 60


@dataclass(frozen=True)
class Sent:
    """The text fields of a form, and its files as they came."""

    raw: dict[str, Any]
    files: tuple[UploadFile, ...]


async def get_sent(request: Request) -> AsyncIterator[Sent]:
    """Give what was sent; the files are closed, and so gone, once the answer is worked out."""
    try:
        async with request.form(
            max_files=MOST_PARTS, max_fields=MOST_PARTS, max_part_size=MOST_BODY_BYTES
        ) as form:
            # a file field in which nothing was picked comes as a file without a name
            files = [part for _, part in form.multi_items() if isinstance(part, UploadFile) and part.filename]
            yield Sent(raw_of(form), tuple(files))
    except OSError as error:
        words = f"What was sent was not kept: {plain_trouble(error)}. Nothing was changed."
        raise CannotSave(words) from error


SentForm = Annotated[Sent, Depends(get_sent, scope="function")]


def shown_name(file: UploadFile) -> str:
    """Return what a file was called where it came from, to be shown and for nothing else."""
    return " ".join((file.filename or "").replace("\\", "/").rpartition("/")[2].split())[:LONGEST_NAME_SHOWN]
