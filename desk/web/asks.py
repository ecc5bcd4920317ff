"""What a request may say: every value has a kind and a bound, checked before anything is done.

The kinds are pydantic's. A value that does not fit is refused by its name; one that nobody asks
for is left out.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

MOST_TEXT = 4000
MOST_NUMBER = 2**31 - 1  # no record has more rows; SQLite and PostgreSQL hold it
LONGEST_MS = 7_258_118_400_000  # the year 2200 in ms of 1970: what a clock of a phone may say
LARGEST = 2**53  # the largest whole number that a browser counts to

Text = Annotated[str, Field(max_length=MOST_TEXT)]
Number = Annotated[int, Field(ge=0, le=MOST_NUMBER)]
Size = Annotated[int, Field(ge=-LARGEST, le=LARGEST)]
Shown = dict[str, Any] | None


class Asked(BaseModel):
    """The body of a request."""

    model_config = ConfigDict(strict=True, extra="ignore")


class Named(Asked):
    """Whoever asks, and why."""

    by: Text = ""
    because: Text = ""


class Decision(Named):
    """A decision on a draft, with what was shown."""

    id: Number
    act: Text = ""
    value: Text = ""
    shown: Shown = None
    although: Text = ""
    first: Text | None = None
    replaces: Number | None = None


class Added(Named):
    """A value that a person typed."""

    name: Text = ""
    value: Text = ""
    position: Number | Text | None = None
    although: Text = ""
    first: Text | None = None
    replaces: Number | None = None


class Marked(Asked):
    """Words that were marked as a value of a field."""

    name: Text = ""
    words: Text = ""


class Arranged(Named):
    """Where files or a job belong."""

    act: Text = ""
    files: Annotated[list[Number], Field(max_length=5000)] = []
    to: Number | Literal["new"] | None = None
    value: Text = ""


class Settled(Named):
    """What became of a defect."""

    defect: Text = ""
    state: Text = ""
    until: Text | None = None
    job: Number | Text = Field("", alias="in")


class Corrected(Named):
    """An entry put right, or withdrawn."""

    entry: Number | Text = ""
    withdraw: bool | Literal["", "1"] | None = None  # a button of a form sends its own word
    value: Text = ""
    shown: Shown = None
    although: Text = ""
    first: Text | None = None


class Closed(Named):
    """A job closed, with what was shown to be left in it."""

    seen: Annotated[list[Text], Field(max_length=2000)] | None = None


class Announced(Asked):
    """A file that is to come; times are ms since 1970."""

    name: Text | None = None
    size: Size | None = None
    key: Annotated[str, Field(max_length=64)] | None = None
    type: Text = ""
    began: Annotated[float, Field(gt=0, lt=LONGEST_MS)] | None = None
    modified: Annotated[float, Field(lt=LONGEST_MS, gt=-LONGEST_MS)] | None = None


class Finished(Asked):
    """A file that is here, and of a memo that grew its size."""

    size: Size | None = None
