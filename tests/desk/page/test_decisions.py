"""Every order of decisions, by two people with pages of different age, against a model.

Over the HTTP interface, by Hypothesis's stateful testing: what enters is what stood on the control
that was pressed; a link leads to the card its value came from; an undo of the last act gives the
state before it; nothing is decided without a name; after closing nothing changes but by a
correction or a late entry.
"""

from __future__ import annotations

import shutil
import tempfile
from contextlib import suppress
from pathlib import Path

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from desk.opening import Opened
from desk.settings import load
from desk.web.serve import make_desk
from extract.values.catalogue import load as load_catalogue
from extract.values.draft import Alternative
from record import chain, entries, queue
from record.store import Store
from tests.desk.page.conftest import PORT, client_of, draft, fill
from tests.desk.page.model import (
    DOUBTFUL,
    GOOD,
    LABELS,
    Model,
    cards_of,
    doubtful,
    entries_of,
    figure,
    record_of,
)

STEPS = 2000  # that a run must take at the least
PEOPLE = ("Ines Invented", "Bo Invented")
TYPED = [(n, text) for table in (GOOD, DOUBTFUL) for n, texts in table.items() for text in texts]
PICK = st.integers(0, 10**6)
NAMES = {"added": "confirmed"}  # how a card calls it
LOOK = 8  # steps between two looks at the record
SENT = {"steps": 0}


def heard(value: str, media: str, start: float, *others: str):
    """A torque heard in a memo, with other readings of it."""
    found = tuple(Alternative(figure(o), 0.2, "other hearing") for o in others)
    told = {"unit": "ft-lb", "alternatives": found}
    return draft("filter_torque", figure(value), media, start, **told)


def made_home() -> Path:
    """A home with a job of two memos and a photo, made once and copied for each example."""
    folder = Path(tempfile.mkdtemp(prefix="cowlnote-model-"))
    filled = fill(folder / "home", memos=2, photos=1, drafts=1, doubtful=1)
    given = [
        heard("17", "memo_00.wav", 2.0, "16.5"),
        heard("18", "memo_01.wav", 3.0, "17.5"),
        draft("oil_added", figure("7"), "memo_01.wav", 5.0, unit="qt"),
    ]
    with filled.desk.store.session() as session:
        queue.put(session, filled.job, given)
    filled.desk.store.close()
    return folder


class Decisions(RuleBasedStateMachine):
    """Two people at one job, each with a page that may be old."""

    home: Path

    @initialize()
    def begin(self):
        self.folder = Path(tempfile.mkdtemp(prefix="cowlnote-model-"))
        shutil.copytree(self.home / "home", self.folder / "home")
        where = self.folder / "home"
        given = load(where, {"COWLNOTE_MODELS": str(where / "none")})
        self.desk = make_desk(Opened(given, CATALOGUE, Store.open(where)), port=PORT)
        self.client = client_of(self.desk)
        self.client.get(f"/open/{self.desk.doors.invite('desk')}")
        token = self.desk.doors.token(self.client.cookies[self.desk.doors.cookie])
        self.client.headers["x-cowlnote-token"] = token
        self.model = Model()
        self.views = {}
        for who in PEOPLE:
            self.load(who)
        self.model.states = dict.fromkeys(self.views[PEOPLE[0]]["cards"], "waiting")
        cards = self.views[PEOPLE[0]]["cards"].values()
        self.truth = {c["id"]: (c["seen"], c["state"]) for c in cards}
        self.acts = []  # of each act that can be undone: its draft, and all that was shown before
        cards = self.views[PEOPLE[0]]["cards"]
        self.torque = min(n for n, c in cards.items() if c["name"] == "filter_torque")
        self.taken = 0

    def teardown(self):
        if not hasattr(self, "client"):
            return
        self.look()
        with self.desk.store.session() as session:
            assert chain.prove(session) is None
            for one in entries.decisions(session):
                assert one.by in PEOPLE
                assert one.shown or one.action == "close"
        self.desk.store.close()
        shutil.rmtree(self.folder)

    # what is there, and what a person has on the screen

    def now(self):
        """Give what is shown: the record, and which cards there are in what state."""
        cards = cards_of(self.client.get("/job/1").text)
        states = {n: c["state"] for n, c in cards.items()}
        return record_of(self.client.get("/record/1").text), states

    def told(self):
        """Give what must be shown, by the model."""
        states = {n: NAMES.get(s, s) for n, s in self.model.states.items() if s != "retracted"}
        return self.model.record(), states

    def post(self, url, who, **body):
        self.taken += 1
        return self.client.post(url, json={"by": who, **body})

    def card(self, who, pick):
        cards = self.views[who]["cards"]
        return cards[sorted(cards)[pick % len(cards)]]

    @invariant()
    def the_record_shows_what_the_model_says(self):
        """Looked at every few steps: what went wrong in between would still stand there."""
        SENT["steps"] += 1
        self.count = getattr(self, "count", 0) + 1
        if hasattr(self, "client") and self.count % LOOK == 0:
            self.look()

    def look(self):
        assert record_of(self.client.get("/record/1").text) == self.model.record()

    @rule(who=st.sampled_from(PEOPLE))
    def load(self, who):
        self.views[who] = {
            "cards": cards_of(self.client.get("/job/1").text),
            "entries": entries_of(self.client.get("/record/1").text),
        }
        for number, card in self.views[who]["cards"].items():
            state = self.model.states.get(number, card["state"])
            assert card["state"] == NAMES.get(state, state)
            top = self.model.top(card["label"])
            if top and top.origin == number and state != "waiting":
                stands = card["shown"] if not card["struck"] else card["told"]
                assert (top.shown or "withdrawn") in stands

    # decisions on a draft

    def undoable(self, number, before):
        self.acts.append((number, before))

    def current(self, card):
        """Tell whether a card in an old page is still what is there."""
        return self.truth.get(card["id"]) == (card["seen"], card["state"])

    def learn(self, answer):
        """Keep how cards stand now, as the answer to an accepted act tells."""
        for card in (answer, *answer.get("others", ())):
            if card["state"] == "retracted":
                self.truth.pop(card["id"], None)
            else:
                self.truth[card["id"]] = card["seen"], card["state"]

    def decide(self, who, card, pressed, act, body, again):
        """Press a control; give the answer, after the page's question if there is one."""
        before, label = self.told(), card["label"]
        valid = self.current(card) and card["state"] == "waiting" and not self.model.closed
        sent = {"act": act, "id": card["id"], "shown": card["seen"], **body}
        url = "/job/1/decide"
        answer = self.post(url, who, **sent)
        if not valid:
            assert answer.status_code == 409
            return
        stood = self.model.stands(label)
        if pressed is not None and stood not in (None, pressed):
            assert answer.status_code == 409, "a value was replaced without a word"
            asked = answer.json()["asks"]["replaces"]
            assert asked["shown"] == stood
            if not again:
                return
            sent |= {"replaces": asked["entry"], "because": "seen to be right"}
            answer = self.post(url, who, **sent)
        if pressed is not None and doubtful(pressed, stood):
            assert answer.status_code == 409, "a doubtful value was taken without a word"
            assert answer.json()["asks"]["doubts"]
            if not again:
                return
            sent |= {"although": "I looked again", "first": body["value"]}
            wrong = self.post(url, who, **{**sent, "first": "3"})
            assert wrong.status_code == 400
            answer = self.post(url, who, **sent)
        assert answer.status_code == 200, answer.text
        state = {"confirm": "confirmed", "amend": "amended", "reject": "rejected"}[act]
        assert answer.json()["state"] == state
        self.learn(answer.json())
        self.model.states[card["id"]] = state
        if pressed is not None:
            assert answer.json()["shown"] == pressed
            self.model.enter(label, pressed, who, card["id"])
        self.undoable(card["id"], before)

    @rule(who=st.sampled_from(PEOPLE), pick=PICK, again=st.booleans())
    def confirm(self, who, pick, again):
        card = self.card(who, pick)
        self.decide(who, card, card["seen"]["value"], "confirm", {}, again)

    @rule(who=st.sampled_from(PEOPLE), pick=PICK, other=PICK, again=st.booleans())
    def take_another_reading(self, who, pick, other, again):
        card = self.card(who, pick)
        if card["alternatives"]:
            found = card["alternatives"][other % len(card["alternatives"])]
            told = {"value": found["text"], "because": "chosen among the readings"}
            self.decide(who, card, found["shown"], "amend", told, again)

    @rule(who=st.sampled_from(PEOPLE), pick=PICK, text=PICK, again=st.booleans())
    def amend(self, who, pick, text, again):
        card = self.card(who, pick)
        table = {**GOOD.get(card["name"], {}), **DOUBTFUL.get(card["name"], {})}
        if table:
            typed = sorted(table)[text % len(table)]
            told = {"value": typed, "because": "misheard"}
            self.decide(who, card, table[typed], "amend", told, again)

    @rule(who=st.sampled_from(PEOPLE), pick=PICK)
    def reject(self, who, pick):
        card = self.card(who, pick)
        self.decide(who, card, None, "reject", {"because": "not said"}, again=True)

    @rule(
        who=st.sampled_from(PEOPLE), pick=PICK, act=st.sampled_from(("confirm", "reject", "undo"))
    )
    def nobody_decides(self, who, pick, act):
        card = self.card(who, pick)
        told = {"act": act, "id": card["id"], "shown": card["seen"], "because": "x"}
        assert self.post("/job/1/decide", "  ", **told).status_code == 409
        typed = {"name": "oil_added", "value": "6", "position": ""}
        assert self.post("/job/1/add", "", **typed).status_code == 409

    @rule(who=st.sampled_from(PEOPLE), pick=PICK)
    def undo_on_a_card(self, who, pick):
        card = self.card(who, pick)
        valid = self.current(card) and card["state"] != "waiting" and not self.model.closed
        under = self.model.under(card["label"], card["id"])
        answer = self.post("/job/1/decide", who, act="undo", id=card["id"], shown=card["seen"])
        if not valid or under:
            assert answer.status_code == 409
            return
        self.undone(card["id"], card["label"], answer)

    @precondition(lambda self: getattr(self, "acts", None) and not self.model.closed)
    @rule(who=st.sampled_from(PEOPLE))
    def undo_the_last_act(self, who):
        number, before = self.acts[-1]
        card = self.client.get(f"/draft/{number}").json()
        if self.model.under(card["label"], number):
            return  # corrected since: that was the last act
        answer = self.post("/job/1/decide", who, act="undo", id=number, shown=card["seen"])
        self.undone(number, card["label"], answer)
        if before is not None:
            assert self.now() == before, "an undo did not give the state before it"

    def undone(self, number, label, answer):
        assert answer.status_code == 200, answer.text
        added = self.model.states[number] == "added"
        assert answer.json()["state"] == ("retracted" if added else "waiting")
        self.learn({"id": number, **answer.json()})
        self.model.states[number] = "retracted" if added else "waiting"
        stack = self.model.slots.get(label, [])
        if stack and stack[-1].origin == number:
            stack.pop()
        last = self.acts[-1][0] == number
        self.acts = [(n, was if last else None) for n, was in self.acts if n != number]

    # what is typed, corrected, heard again

    @rule(who=st.sampled_from(PEOPLE), pick=PICK, again=st.booleans())
    def add(self, who, pick, again):
        name, text = TYPED[pick % len(TYPED)]
        before, label, late = self.told(), LABELS[name], self.model.closed
        pressed = {**GOOD.get(name, {}), **DOUBTFUL.get(name, {})}[text]
        stood = self.model.stands(label)
        sent = {"name": name, "value": text, "position": ""}
        answer = self.post("/job/1/add", who, **sent)
        if late:
            assert answer.status_code == 409, "a closed job changed without a reason"
            sent["because"] = "found the note"
            answer = self.post("/job/1/add", who, **sent)
            if stood is not None:
                assert answer.status_code == 409
                return
        elif stood not in (None, pressed):
            assert answer.status_code == 409, "a value was replaced without a word"
            asked = answer.json()["asks"]["replaces"]
            assert asked["shown"] == stood
            if not again:
                return
            sent |= {"replaces": asked["entry"], "because": "read again"}
            answer = self.post("/job/1/add", who, **sent)
        if doubtful(pressed, None if late else stood):
            assert answer.status_code == 409, "a doubtful value was taken without a word"
            assert answer.json()["asks"]["doubts"]
            if not again:
                return
            sent |= {"although": "I looked again", "first": text}
            answer = self.post("/job/1/add", who, **sent)
        assert answer.status_code == 200, answer.text
        number = answer.json()["draft"]
        self.learn(self.client.get(f"/draft/{number}").json())
        self.model.states[number] = "added"
        self.model.enter(label, pressed, who, number)
        if not late:
            self.undoable(number, before)

    @rule(
        who=st.sampled_from(PEOPLE),
        pick=PICK,
        text=PICK,
        withdraw=st.booleans(),
        again=st.booleans(),
    )
    def correct(self, who, pick, text, withdraw, again):
        shown = self.views[who]["entries"]
        if not shown:
            return
        number = sorted(shown)[pick % len(shown)]
        label = shown[number]["label"]
        fresh = entries_of(self.client.get("/record/1").text)
        table = {
            t: s
            for n, known in LABELS.items()
            if known == label
            for t, s in {**GOOD.get(n, {}), **DOUBTFUL.get(n, {})}.items()
        }
        if not table:
            return
        typed = sorted(table)[text % len(table)]
        sent = {"entry": str(number), "shown": shown[number]["seen"], "because": "misread"}
        sent |= {"withdraw": "1"} if withdraw else {"value": typed}
        answer = self.post("/record/1/correct", who, **sent)
        if number not in fresh:
            assert answer.status_code == 409
            return
        if not withdraw and doubtful(table[typed], self.model.stands(label)):
            assert answer.status_code == 409, "a doubtful correction was taken without a word"
            assert answer.json()["asks"]["doubts"]
            if not again:
                return
            sent |= {"although": "I looked again", "first": typed}
            answer = self.post("/record/1/correct", who, **sent)
        assert answer.status_code == 200, answer.text
        old = self.model.top(label)
        self.model.enter(label, None if withdraw else table[typed], who, old.origin)
        self.acts = [(n, None) for n, _ in self.acts]

    @precondition(lambda self: hasattr(self, "client") and not self.model.closed)
    @rule(pick=PICK)
    def it_is_heard_again(self, pick):
        """Another reading of the same memo takes the place of one that waits."""
        if self.model.states[self.torque] != "waiting":
            return
        with self.desk.store.session() as session:
            value = f"17.{pick % 3 + 1}"
            queue.put(session, 1, [heard(value, "memo_00.wav", 2.0)])
        self.learn(self.client.get(f"/draft/{self.torque}").json())
        self.acts = [(n, None) for n, _ in self.acts]

    @precondition(lambda self: getattr(self, "taken", 0) > 40)
    @rule(who=st.sampled_from(PEOPLE))
    def close(self, who):
        left = self.client.get("/job/1/left").json()["lines"]
        told = {"because": "as far as it goes", "seen": left}
        answer = self.post("/job/1/close", who, **told)
        if self.model.closed:
            assert answer.status_code == 409
        else:
            assert answer.status_code == 200, answer.text
            self.model.closed = True


CATALOGUE = load_catalogue()


def test_what_is_shown_is_what_is_entered_in_any_order_of_decisions():
    Decisions.home = made_home()
    SENT["steps"] = 0
    told = settings(
        max_examples=8,
        stateful_step_count=150,
        deadline=None,
        phases=(Phase.generate,),  # what is found is short enough to read as it is
        suppress_health_check=list(HealthCheck),
    )
    try:
        while SENT["steps"] < STEPS:
            run_state_machine_as_test(Decisions, settings=told)
    finally:
        with suppress(OSError):
            shutil.rmtree(Decisions.home)
