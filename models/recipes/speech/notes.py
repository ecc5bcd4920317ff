"""Make sentences of spoken notes from notes.toml: what to say and what should be written.

`sentences(seed, count)` gives (topic, text) pairs, the same for the same seed. Figures are written
out as words, in the many ways people say them; nothing here is a reading of a real aircraft.
"""

from __future__ import annotations

import random
import re
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

ONES = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen "
    "sixteen seventeen eighteen nineteen"
).split()
TENS = "_ _ twenty thirty forty fifty sixty seventy eighty ninety".split()
ORDINALS = (
    "_ first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth thirteenth "
    "fourteenth fifteenth sixteenth seventeenth eighteenth nineteenth twentieth"
).split()
MONTHS = (
    "January February March April May June July August September October November December"
).split()
WEEKDAYS = "Monday Tuesday Wednesday Thursday Friday Saturday Sunday".split()
NAMES = "Dana Pat Lee Marta Theo Ines Walt June Omar Priya Karl Nell Hugo Rosa Sam Vera Bo".split()
PLACES = "Redford Millbrook the coast the city Ashby Lakeview the valley Northgate Portsea".split(
    " "
)
SHARES = {
    "topic": 0.60,
    "not_value": 0.12,
    "number": 0.10,
    "fragment": 0.02,
    "chatter": 0.04,
    "general": 0.12,
}


def under_hundred(n: int) -> str:
    """Give 0 to 99 in words."""
    if n < 20:
        return ONES[n]
    return TENS[n // 10] + (f"-{ONES[n % 10]}" if n % 10 else "")


def cardinal(n: int, link: str = "") -> str:
    """Give 0 to 999,999 in words; `link` is `and ` where hundreds and tens are joined so."""
    if n < 100:
        return under_hundred(n)
    if n < 1000:
        rest = f" {link}{under_hundred(n % 100)}" if n % 100 else ""
        return f"{ONES[n // 100]} hundred{rest}"
    rest = n % 1000
    tail = "" if not rest else f" {link if rest < 100 else ''}{cardinal(rest, link)}"
    return f"{cardinal(n // 1000, link)} thousand{tail}"


def by_digit(figures: str, zero: str) -> str:
    """Give figures one by one; `zero` is the word for 0."""
    return " ".join(zero if f == "0" else ONES[int(f)] for f in figures)


def in_pairs(figures: str, zero: str) -> str:
    """Give figures two at a time from the right: 2345 is twenty-three forty-five."""
    head = len(figures) % 2
    parts = [by_digit(figures[:head], zero)] if head else []
    for i in range(head, len(figures), 2):
        two = figures[i : i + 2]
        if two == "00":
            parts.append("hundred" if parts else f"{zero} {zero}")
        else:
            parts.append(f"{zero} {ONES[int(two)]}" if two[0] == "0" else under_hundred(int(two)))
    return " ".join(parts)


class Speaker:
    """Says amounts in one person's ways. Holds the random source."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.slots: dict[str, Callable[[], str]] = {
            name: getattr(self, name)
            for name in dir(self)
            if not name.startswith("_") and name not in ("rng", "slots", "fill")
        }

    def _zero(self) -> str:
        return self.rng.choice(["zero", "oh", "oh"])

    def _point(self) -> str:
        return self.rng.choice(["point", "point", "point", "point", "decimal"])

    def _whole(self, n: int) -> str:
        style, figures = self.rng.random(), str(n)
        if style < 0.45:
            return by_digit(figures, self._zero())
        if style < 0.75 and len(figures) > 2:
            return in_pairs(figures, self._zero())
        return cardinal(n, self.rng.choice(["", "and "]))

    def tach(self) -> str:
        """An hour counter: up to five figures and a tenth, sometimes without."""
        n = (
            int(10 ** self.rng.uniform(1.5, 4.0))
            if self.rng.random() < 0.85
            else self.rng.randrange(9999)
        )
        if self.rng.random() < 0.1:
            n -= n % 100
        tenth = self.rng.randrange(10)
        if self.rng.random() < 0.07:
            return self._whole(n)
        tail = "oh" if tenth == 0 and self.rng.random() < 0.3 else ONES[tenth]
        if self.rng.random() < 0.05 and tenth > 1:
            return f"{self._whole(n)} and {ONES[tenth]} tenths"
        return f"{self._whole(n)} {self._point()} {tail}"

    def qt(self) -> str:
        """Quarts: whole, a fraction, or a decimal."""
        n, r = (
            self.rng.choice([1, 2, 3, 4, 5, 5, 6, 6, 7, 7, 8, 8, 9, 10, 11, 12]),
            self.rng.random(),
        )
        if r < 0.3:
            return ONES[n]
        if r < 0.75:
            share = self.rng.choice(
                [
                    "a quarter",
                    "a half",
                    "three quarters",
                    "one quarter",
                    "one half",
                    "a third",
                    "three-quarters",
                    "a half",
                    "a quarter",
                ]
            )
            return f"{ONES[n]} and {share}"
        if r < 0.8:
            return self.rng.choice(
                ["a half", "three quarters of a", "half a", "one and a half", "a quarter"]
            )
        tenths = self.rng.choice([*range(1, 10), 25, 75, 5, 5])
        return f"{ONES[n]} {self._point()} {by_digit(str(tenths), 'oh')}"

    def oz(self) -> str:
        """Fluid ounces."""
        n, r = self.rng.randrange(1, 16), self.rng.random()
        if r < 0.4:
            return ONES[n]
        if r < 0.7:
            return f"{ONES[n]} and a {self.rng.choice(['half', 'quarter', 'half', 'third'])}"
        return f"{ONES[n]} {self._point()} {ONES[self.rng.randrange(1, 10)]}"

    def torque(self) -> str:
        """A torque with its unit."""
        if self.rng.random() < 0.25:
            n = self.rng.randrange(120, 421)
            return (
                f"{self._whole(n)} {self.rng.choice(['inch pounds', 'inch pounds', 'inch-pounds'])}"
            )
        n, half = self.rng.randrange(8, 46), self.rng.random()
        amount = under_hundred(n)
        if half < 0.15:
            amount += self.rng.choice([" and a half", f" {self._point()} five", " and a quarter"])
        elif half < 0.22:
            amount = by_digit(str(n), "oh")
        unit = self.rng.choice(
            ["foot pounds"] * 5 + ["foot-pounds", "pound feet", "newton meters", "pounds"]
        )
        return f"{amount} {unit}"

    def wire(self) -> str:
        """A wire diameter in thousandths of an inch."""
        n = self.rng.choice([15, 20, 20, 20, 25, 28, 32, 32, 32, 40, 41, 47, 51, 62])
        r, zero = self.rng.random(), self._zero()
        if r < 0.45:
            return by_digit(f"0{n}", zero)
        if r < 0.6:
            return f"{self._point()} {by_digit(f'0{n}', zero)}"
        return f"{under_hundred(n)} {self.rng.choice(['thou', 'thou', 'thousandths', 'thousandths of an inch'])}"

    def thou(self) -> str:
        """A gap in thousandths."""
        n = self.rng.randrange(10, 36)
        unit = self.rng.choice(["thou", "thou", "thou", "thousandths"])
        if self.rng.random() < 0.25:
            return f"{self._point() + ' ' if self.rng.random() < 0.5 else ''}{by_digit(f'0{n}', self._zero())}"
        return f"{under_hundred(n)} {unit}"

    def twist(self) -> str:
        """Twists to an inch."""
        return under_hundred(self.rng.randrange(4, 15))

    def rpm(self) -> str:
        """Engine speed."""
        n = self.rng.choice(
            [600, 700, 750, 800, 900, 1000, 1000, 1100, 1200, 1500, 1700, 1800, 2000, 2100, 2300]
        )
        n += self.rng.choice([0, 0, 0, 50, 20])
        if n == 1000 and self.rng.random() < 0.6:
            return self.rng.choice(["a thousand", "one thousand", "ten hundred"])
        return self.rng.choice([cardinal(n), in_pairs(str(n), "oh"), by_digit(str(n), "zero")])

    def psi(self) -> str:
        """Oil pressure."""
        return self._whole(self.rng.randrange(20, 100))

    def temp(self) -> str:
        """Oil temperature, degrees Fahrenheit."""
        n = self.rng.randrange(90, 246)
        return self.rng.choice([in_pairs(str(n), "oh"), cardinal(n), cardinal(n, "and ")])

    def volt(self) -> str:
        """Volts."""
        return f"{under_hundred(self.rng.choice([11, 12, 12, 13, 14, 23, 24, 24, 25, 26, 28]))} {self._point()} {ONES[self.rng.randrange(10)]}"

    def comp(self) -> str:
        """A differential compression, out of 80."""
        n = self.rng.choice([*range(55, 80), *range(68, 80)])
        r = self.rng.random()
        top = under_hundred(n) if r < 0.85 else by_digit(str(n), "oh")
        return top + self.rng.choice(
            [" over eighty"] * 5 + ["", " out of eighty", " over eight zero"]
        )

    def cyl(self) -> str:
        """A cylinder."""
        return ONES[self.rng.randrange(1, 7)]

    def int(self) -> str:
        """A number of anything."""
        n = self.rng.choice(
            [self.rng.randrange(2, 60), self.rng.randrange(2, 100), self.rng.randrange(100, 1000)]
        )
        return self._whole(n) if n > 99 else under_hundred(n)

    def low(self) -> str:
        """The lower end of a range."""
        return under_hundred(self.rng.randrange(5, 40))

    def high(self) -> str:
        """The upper end of a range."""
        return under_hundred(self.rng.randrange(12, 100))

    def digits(self) -> str:
        """Figures one by one, as a serial number is read out."""
        n = self.rng.randrange(3, 9)
        figures = "".join(self.rng.choice("0123456789") for _ in range(n))
        return (
            by_digit(figures, self._zero())
            if self.rng.random() < 0.75
            else in_pairs(figures, self._zero())
        )

    def pn(self) -> str:
        """A part number read out: letters, dash, figures, sometimes a letter at the end."""
        letters = " ".join(
            self.rng.choice("ABCDEFGHJKLMNPRSTUVWXZ") for _ in range(self.rng.randrange(0, 4))
        )
        n = str(self.rng.randrange(2, 99999))
        figures = (
            by_digit(n, self._zero()) if self.rng.random() < 0.7 else in_pairs(n, self._zero())
        )
        tail = self.rng.choice(
            ["", "", "", " A", " B", " dash one", " dash two", " C", " dash A", " tack one"]
        )
        dash = self.rng.choice(["dash ", "", " dash "] if letters else ["dash ", "dash ", ""])
        return " ".join(f"{letters} {dash}{figures}{tail}".split())

    def tail(self) -> str:
        """An invented registration's end."""
        return f"{by_digit(str(self.rng.randrange(10, 9999)), self._zero())} {self.rng.choice('QXZWJV')}"

    def grade(self) -> str:
        """An oil grade as said."""
        return self.rng.choice(
            [
                "twenty W fifty",
                "fifteen W fifty",
                "twenty-five W sixty",
                "single grade fifty",
                "straight fifty",
                "SAE fifty",
                "SAE forty",
                "sixty weight",
                "hundred weight",
                "eighty weight",
                "a hundred plus",
                "W one hundred",
                "one hundred",
                "multigrade",
                "mineral oil",
                "SAE thirty",
                "straight forty",
            ]
        )

    def month(self) -> str:
        """A month."""
        return self.rng.choice(MONTHS)

    def weekday(self) -> str:
        """A day of the week."""
        return self.rng.choice(WEEKDAYS)

    def name(self) -> str:
        """An invented first name."""
        return self.rng.choice(NAMES)

    def place(self) -> str:
        """A place that is nowhere."""
        return self.rng.choice(
            ["Redford", "Millbrook", "the coast", "the city", "Ashby", "the valley", "Northgate"]
        )

    def date(self) -> str:
        """A day of 2019 to 2031 as said."""
        day, month = self.rng.randrange(1, 29), self.month()
        nth = ORDINALS[day] if day <= 20 else f"twenty-{ORDINALS[day - 20]}"
        n = self.rng.randrange(19, 32)
        year = self.rng.choice(
            [
                f"twenty {under_hundred(n)}",
                f"two thousand {under_hundred(n)}",
                f"two thousand and {under_hundred(n)}",
            ]
        )
        year = self.rng.choice(["", f" {year}", f" {year}"])
        return self.rng.choice(
            [
                f"the {nth} of {month}{year}",
                f"{month} {nth}{year}",
                f"{month} the {nth}{year}",
                f"{under_hundred(day)} {month}{year}",
                f"{month} {under_hundred(day)}{year}",
            ]
        )

    def clock(self) -> str:
        """A time of day."""
        h, m = (
            self.rng.randrange(24),
            self.rng.choice([0, 5, 10, 15, 20, 30, 40, 42, 45, 50, self.rng.randrange(60)]),
        )
        hour = (
            under_hundred(h)
            if h > 9
            else self.rng.choice([ONES[h], f"oh {ONES[h]}", f"zero {ONES[h]}"])
        )
        if m == 0:
            return (
                f"{hour} {self.rng.choice(['hundred', 'hundred hours'])}"
                if h > 9
                else f"{ONES[h]} o'clock"
            )
        return f"{hour} {'oh ' + ONES[m] if m < 10 else under_hundred(m)}"

    def fill(self, template: str) -> str:
        """Choose among (a|b) from the inside out, fill the slots, tidy the spaces."""
        inner = re.compile(r"\(([^()]*\|[^()]*)\)")
        while found := inner.search(template):
            choice = self.rng.choice(found.group(1).split("|"))
            template = template[: found.start()] + choice + template[found.end() :]
        text = re.sub(r"\{(\w+)\}", lambda m: self.slots[m.group(1)](), template)
        text = re.sub(r"\s+([,.?])", r"\1", " ".join(text.split()))
        return text


def sentences(seed: int, count: int) -> Iterator[tuple[str, str]]:
    """Give `count` (topic, text) pairs. Sentences begin with a capital, fragments do not."""
    rng = random.Random(seed)
    speaker = Speaker(rng)
    book = tomllib.loads((Path(__file__).parent / "notes.toml").read_text("utf-8"))
    special = ("number", "fragment", "chatter")
    groups = {
        "topic": list(book["said"].items()),
        "general": list(book["general"].items()),
        "not_value": [(k, v) for k, v in book["not_value"].items() if k not in special],
        **{k: [(k, book["not_value"][k])] for k in special},
    }
    for _ in range(count):
        group = rng.choices(list(SHARES), list(SHARES.values()))[0]
        topic, templates = rng.choice(groups[group])
        text = speaker.fill(rng.choice(templates))
        yield topic, text if topic == "fragment" else text[0].upper() + text[1:]
