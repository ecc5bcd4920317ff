"""What a request may say: every value has a kind and a bound, checked before anything is done.

The kinds are pydantic's; `desk.web.ways` names one for the body and one for the address of every
route. A value that does not fit is refused by its name; one that nobody asks for is left out.
"""

from __future__ import annotations

from functools import cache
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, create_model

MOST_TEXT = 4000
MOST_NUMBER = 2**31 - 1  # no record has more rows; SQLite and PostgreSQL hold it
LONGEST_MS = 7_258_118_400_000  # the year 2200 in ms of 1970: what a clock of a phone may say
LARGEST = 2**53  # the largest whole number that a browser counts to

Text = Annotated[str, Field(max_length=MOST_TEXT)]
Line = Annotated[str, Field(max_length=400)]  # a name, a registration, a question's answer
Short = Annotated[str, Field(max_length=60)]  # a figure or a day as it is typed
Whole = Annotated[str, Field(pattern=r"^[0-9]{1,9}$")]  # a whole number in an address
Path = Annotated[str, Field(max_length=4096)]  # the longest that Linux opens (PATH_MAX)
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


class Nothing(Asked):
    """A body of which nothing is asked; it is not read."""


class Form(Asked):
    """The fields of a form, as text."""

    model_config = ConfigDict(strict=True, extra="ignore", str_strip_whitespace=True)


class Signed(Form):
    """Who fills in a form, and why."""

    by: Line = ""
    because: Text = ""


class Person(Form):
    """What a person says of themselves."""

    name: Line = ""
    role: Line = ""
    certificate: Line = ""


class Pair(Form):
    """Words that are heard, and what is meant by them."""

    heard: Line = ""
    meant: Line = ""


class Sentence(Form):
    """A sentence that is tried."""

    text: Text = ""


class Plan(Form):
    """Where backups go, every how many days, and how many are kept."""

    folder: Path = ""
    days: Short = ""
    kept: Short = ""


class Against(Form):
    """A head that was kept elsewhere."""

    against: Annotated[str, Field(max_length=200)] = ""


class Folder(Form):
    """A folder of this machine."""

    folder: Path = ""


class Export(Folder):
    """Where an export goes, and what of it."""

    position: Literal["yes", "no"] = "no"
    damaged: Literal["leave"] | None = None


class Recurs(Signed):
    """A thing that recurs."""

    what: Line = ""
    hours: Short = ""
    months: Short = ""
    last_hours: Short = ""
    last_date: Short = ""
    until_hours: Short = ""
    until_date: Short = ""


class Refers(Signed):
    """A directive or bulletin."""

    text: Text = ""
    date: Short = ""


class Meter(Signed):
    """A meter that was changed."""

    which: Literal["the tach", "the hour meter"] = "the tach"
    old: Short = ""
    new: Short = ""
    on: Short = ""


class Plain(Form):
    """The values of any page's address: the aircraft that it is about."""

    aircraft: Line | None = None


class Paged(Plain):
    """One page of a list."""

    page: Whole = "1"


class Front(Paged):
    """The front page, also before there is a profile."""

    later: Short | None = None


class People(Paged):
    """One person's decisions."""

    name: Line = ""


class Search(Plain):
    """What is looked for; a day that is none, and a field that is none, are left out."""

    q: Text = ""
    since: Short = ""
    until: Short = ""
    field: Line = ""
    part: Short = ""


class Torque(Plain):
    """A torque, and the adapter on the wrench."""

    wanted: Short = ""
    unit: Short = ""
    length: Short = ""
    adapter: Short = ""
    way: Short = ""


class Paper(Plain):
    """How an entry is printed."""

    size: Line = ""
    photos: Short | None = None


class Days(Plain):
    """The days of a book."""

    start: Short = Field("", alias="from")
    end: Short = Field("", alias="to")


class Drawn(Plain):
    """How many panels of a drawing stand side by side; two where it is not said so."""

    across: Short = ""


class Picture(Plain):
    """How large a photo is wanted."""

    px: Short = ""


class Sound(Plain):
    """In which form a memo is wanted."""

    wav: Short | None = None


class Crop(Plain):
    """Of which photo a cut is wanted."""

    of: Text | None = None


class Since(Plain):
    """After which item a phone listens, and how many seconds it waits."""

    since: Whole = "0"
    wait: Whole = "0"


class Piece(Plain):
    """At which byte a piece of a file begins."""

    at: Annotated[str, Field(pattern=r"^[0-9]{1,16}$")] | None = None


class Sent(Plain):
    """A file that is sent, by its name."""

    name: Line = "file"


class SentBy(Sent):
    """A file that a person sends."""

    by: Line = ""


class Table(SentBy):
    """A laboratory's file."""

    lab: Line = ""


@cache
def answers() -> type[Form]:
    """Give the schema of the profile's questions, each by its key, and of who answers, and why."""
    from desk.asking import every

    return _listed("Answers", Signed, (one.key for one in every()), Text)


@cache
def begun() -> type[Form]:
    """Give the schema of what is asked at the first start."""
    from desk.asking import every

    keys = (one.key for one in every())
    return _listed("Begun", Form, dict.fromkeys(("registration", "zone", *keys)), Text)


@cache
def report(kind: type[Form] = Signed) -> type[Form]:
    """Give the schema of a laboratory's report, added to another: every metal, and whose it is."""
    from record.rules import metals

    keys = ("id", "lab", "date", "hours", "tach", "number", *metals())
    return _listed("Report", create_model("Noted", __base__=kind, note=(Text, "")), keys, Line)


def _listed(name: str, base: type[Form], keys: Any, kind: Any) -> type[Form]:
    """Give a schema with a field for each of many names; those of data need not be Python's."""
    fields: dict[str, Any] = {f"f{n}": (kind, Field("", alias=key)) for n, key in enumerate(keys)}
    made: type[Form] = create_model(name, __base__=base, **fields)
    return made
