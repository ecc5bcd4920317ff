"""A random walk of keys in a real Chromium, against the model of one job.

Before each key it is read what stands on the control that the key presses; after it the record page
must show that, and nothing else. The seed is printed, and can be given in COWLNOTE_WALK.
"""

from __future__ import annotations

import os
import random
import time

from record import queue
from tests.desk.page.conftest import IN_A_BROWSER, WHO, draft, fill
from tests.desk.page.model import DOUBTFUL, GOOD, LABELS, Model, doubtful, figure, record_of
from tests.desk.page.test_decisions import heard

pytestmark = IN_A_BROWSER

KEYS = 300
LOOK = """() => {
  const keyed = {};
  for (const b of document.querySelectorAll('#choices button')) {
    const key = b.querySelector('kbd')?.textContent ?? '';
    keyed[key] = b.textContent.slice(key.length).trim();
  }
  const place = document.querySelector('.draft.current');
  const form = document.querySelector('.bar form:not([hidden])');
  return {
    keyed,
    id: place ? Number(place.dataset.id) : null,
    label: place?.querySelector('.what span')?.textContent ?? '',
    form: form?.id ?? '',
    heading: form?.querySelector('.asked')?.textContent ?? '',
    urgent: document.getElementById('say').classList.contains('warn'),
    say: document.getElementById('say').textContent,
  };
}"""
IDLE = "() => !document.querySelector('.draft.sending')"


class Walker:
    """Presses keys, counts them, and tells the model what they must have done."""

    def __init__(self, page, served, seed):
        self.page, self.served = page, served
        self.chance = random.Random(seed)
        self.model, self.who = Model(), WHO
        self.pressed, self.undone = 0, []

    def press(self, key):
        self.pressed += 1
        self.page.keyboard.press(key)

    def type(self, text):
        """Type into a form; only keys that command are counted."""
        self.page.keyboard.type(text)

    def look(self):
        self.page.wait_for_function(IDLE)
        return self.page.evaluate(LOOK)

    def check(self):
        answer = self.page.request.get(self.served.url("/record/1"))
        assert record_of(answer.text()) == self.model.record()

    # one act each

    def act(self):
        seen = self.look()
        if seen["form"]:
            self.press("Escape")
            seen = self.look()
        ways = [self.walk, self.walk, self.undo, self.add, self.rename]
        if seen["id"] and "U" not in seen["keyed"]:
            ways += [self.confirm, self.confirm, self.choose, self.choose, self.amend, self.reject]
        self.chance.choice(ways)(seen)
        self.check()

    def walk(self, seen):
        self.press(self.chance.choice(["j", "k", "ArrowDown", "ArrowUp"]))

    def rename(self, seen):
        self.who = self.chance.choice([WHO, "Bo Invented"])
        self.press("w")
        self.type(self.who)
        self.press("Enter")
        assert self.page.evaluate("document.activeElement.id") != "who"

    def confirm(self, seen):
        key = self.chance.choice(["Enter", "1"])
        told = seen["keyed"].get(key) or (seen["keyed"].get("Enter") if key == "1" else None)
        self.press(key)
        if told is None:
            assert self.look()["urgent"]  # a doubtful one does not go by on Enter
            return
        value = told.removeprefix("confirm ").partition(" in the place of ")[0]
        self.entered(seen, value)

    def choose(self, seen):
        keys = [k for k in seen["keyed"] if k.isdigit() and k != "1"]
        if keys:
            key = self.chance.choice(keys)
            self.press(key)
            self.entered(seen, seen["keyed"][key].partition(" (")[0].partition(" in the ")[0])

    def table(self, label):
        names = [n for n, known in LABELS.items() if known == label]
        return {t: s for n in names for t, s in {**GOOD.get(n, {}), **DOUBTFUL.get(n, {})}.items()}

    def amend(self, seen):
        table = self.table(seen["label"])
        if not table:
            return
        typed = self.chance.choice(sorted(table))
        self.press("e")
        self.type(typed)
        self.press("Tab")
        self.type("x")
        self.press("Enter")
        self.entered(seen, table[typed], typed)

    def reject(self, seen):
        self.press("r")
        self.press("Enter")
        assert not self.look()["urgent"]
        self.model.states[seen["id"]] = "rejected"
        self.undone.append(seen["id"])

    def entered(self, seen, value, typed=""):
        """Tell the model of a value; the page may ask first, and may be left without an answer."""
        label, after = seen["label"], self.look()
        stood = self.model.stands(label)
        if stood not in (None, value):
            assert after["form"] == "again", "a value was replaced without a word"
            assert f"entered as {stood} by" in after["heading"]
            if self.chance.random() < 0.4:
                self.press("Escape")
                return
            self.type("seen")
            self.press("Enter")
            after = self.look()
        if doubtful(value, stood):
            assert after["form"] == "again", "a doubtful value was taken without a word"
            assert value in after["heading"]
            if self.chance.random() < 0.4:
                self.press("Escape")
                return
            self.type(typed or value.partition(" ")[0])
            self.press("Tab")
            self.type("y")
            self.press("Enter")
            after = self.look()
        assert not after["urgent"], after["say"]
        self.model.enter(label, value, self.who, seen["id"])
        self.undone.append(seen["id"])

    def undo(self, seen):
        on_card = "U" in seen["keyed"]
        self.press("u")
        after = self.look()
        if on_card:
            number = seen["id"]
        else:
            known = [n for n in self.undone if self.decided(n)]
            self.undone = known[:-1]
            if not known:
                assert not after["urgent"]
                return
            number = known[-1]
        label = next(
            (k for k, s in self.model.slots.items() if any(o.origin == number for o in s)), ""
        )
        if label and self.model.under(label, number):
            assert after["urgent"], "a value under another was taken back"
            return
        assert not after["urgent"], after["say"]
        if label:
            self.model.slots[label].pop()
        if number in self.model.states:
            del self.model.states[number]

    def decided(self, number):
        stands = any(o.origin == number for s in self.model.slots.values() for o in s)
        return stands or self.model.states.get(number) == "rejected"

    def add(self, seen):
        name = self.chance.choice(["tach_time", "oil_grade", "cowling_installed"])
        typed = self.chance.choice(sorted(GOOD[name]))
        value, label = GOOD[name][typed], LABELS[name]
        self.press("a")
        self.page.locator("#add select").select_option(name)
        self.press("Tab")
        self.press("Tab")
        self.type(typed)
        address = self.page.url
        self.press("Enter")
        stood = self.model.stands(label)
        if stood not in (None, value):
            self.page.wait_for_selector("#again:not([hidden])")
            assert f"entered as {stood} by" in self.look()["heading"]
            if self.chance.random() < 0.4:
                self.press("Escape")
                return
            self.type("read again")
            self.press("Enter")
        self.page.wait_for_function("old => location.href !== old", arg=address)
        self.page.wait_for_load_state()
        self.page.wait_for_selector(".draft.current")
        self.undone = []  # the page was loaded anew
        self.model.enter(label, value, self.who, self.look()["id"])


def test_three_hundred_random_keys_enter_what_they_show(tmp_path, serve, page):
    seed = int(os.environ.get("COWLNOTE_WALK") or time.time_ns() % 10**6)
    print(f"COWLNOTE_WALK={seed}")  # noqa: T201  (shown where it fails)
    filled = fill(tmp_path / "home", memos=2, photos=1, drafts=2, doubtful=1)
    given = [
        heard("17", "memo_00.wav", 2.0, "16.5"),
        heard("18", "memo_01.wav", 3.0, "17.5"),
        draft("oil_added", figure("7"), "memo_01.wav", 5.0, unit="qt"),
        draft("oil_grade", "SAE 50", "memo_00.wav", 6.0),
    ]
    with filled.desk.store.session() as session:
        queue.put(session, filled.job, given)
    served = serve(filled.desk)
    walker = Walker(page, served, seed)
    page.goto(served.link())
    page.goto(served.url("/job/1"))
    # without a name nothing is decided, and when it was given the page is where it was
    page.wait_for_selector(".draft.current")
    first = walker.look()["id"]
    walker.press("1")
    assert walker.look()["say"] == "Say first who is deciding."
    walker.type(WHO)
    walker.press("Enter")
    assert walker.look()["say"] == ""
    assert page.evaluate("document.activeElement.id") == f"draft-{first}"
    walker.check()
    try:
        while walker.pressed < KEYS:
            walker.act()
    finally:  # the browser notes each refusal as a fault
        page.faults[:] = [f for f in page.faults if "409" not in f]
