"""What the phone's page takes for speech: its own script, fed with made sound in Chromium."""

from __future__ import annotations

import base64

import numpy as np
import pytest

from tests.desk.page.conftest import IN_A_BROWSER, open_home

pytestmark = IN_A_BROWSER

RATE = 16_000
# Feed samples in the browser's own portions; give what was told, the sound of each memo as numbers.
FEED = """async ([raw, rate, mutes]) => {
  const { Voice } = await import('/static/mic.js');
  const bytes = Uint8Array.from(atob(raw), (c) => c.charCodeAt(0));
  const samples = new Float32Array(bytes.buffer);
  const memos = [];
  let at = 0;
  let memo = null;
  const voice = new Voice(rate, (told) => {
    if (told.is === 'begin') {
      memo = { from: at - Math.round(told.lead * rate), pcm: [] };
      memos.push(memo);
    } else if (told.is === 'sound') memo.pcm.push(...new Int16Array(told.pcm));
    else if (told.is === 'end') { memo.to = at; memo = null; }
  });
  for (; at < samples.length; at += 128) {
    for (const [when, on] of mutes) if (at <= when && when < at + 128) voice.mute(on);
    voice.feed(samples.subarray(at, at + 128));
  }
  const open = memo !== null;
  voice.cut();
  const text = (bytes) => Array.from(bytes, (b) => String.fromCharCode(b)).join('');
  const packed = (pcm) => btoa(text(new Uint8Array(new Int16Array(pcm).buffer)));
  return { open, memos: memos.map((one) => ({ ...one, pcm: packed(one.pcm) })) };
}"""


@pytest.fixture(scope="module")
def feed(chromium, tmp_path_factory):
    """`feed(samples)`: the memos that the page's script cuts from samples at 16 kHz."""
    import threading
    import time

    import uvicorn

    from desk.web.serve import config, listen, make_desk

    home = open_home(tmp_path_factory.mktemp("voice") / "home")
    listening = listen("127.0.0.1", 0)
    desk = make_desk(home, port=listening.getsockname()[1])
    server = uvicorn.Server(config(desk))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    page = chromium.new_page()
    page.goto(f"http://127.0.0.1:{listening.getsockname()[1]}/open/{desk.doors.invite('desk')}")

    def run(samples, mutes=()):
        raw = base64.b64encode(samples.astype("<f4").tobytes()).decode()
        told = page.evaluate(FEED, [raw, RATE, [[int(t * RATE), on] for t, on in mutes]])
        for one in told["memos"]:
            one["pcm"] = np.frombuffer(base64.b64decode(one["pcm"]), "<i2")
        return told

    yield run
    page.close()
    server.should_exit = server.force_exit = True
    thread.join(10)
    home.store.close()


def noise(seconds, db, seed=7):
    """Noise of so many dB under full scale."""
    made = np.random.default_rng(seed).normal(0, 1, round(seconds * RATE))
    return (made * 10 ** (db / 20)).astype(np.float32)


def phrase(seconds, db):
    """Something loud and soft by syllables, four a second, as speech is: a gated buzz."""
    t = np.arange(round(seconds * RATE)) / RATE
    gate = 0.5 * (1 - np.cos(2 * np.pi * 4 * t))
    buzz = np.sign(np.sin(2 * np.pi * 140 * t)) * np.sin(2 * np.pi * 700 * t)
    return (gate * buzz * 10 ** (db / 20)).astype(np.float32)


def room(seconds, *said, db=-50):
    """A room's noise with phrases in it: (second, length, dB)."""
    made = noise(seconds, db)
    for at, length, loud in said:
        begin = round(at * RATE)
        part = phrase(length, loud)
        made[begin : begin + len(part)] += part
    return made


def test_a_silent_room_and_a_noisy_one_give_no_memo(feed):
    assert feed(np.zeros(10 * RATE))["memos"] == []
    assert feed(noise(20, -60))["memos"] == []
    assert feed(noise(20, -25))["memos"] == []


@pytest.mark.parametrize("db", [-60, -45, -35])
def test_a_phrase_is_taken_whole_with_sound_from_before_it_and_after(feed, db):
    told = feed(room(16, (5, 2, db + 16), db=db))
    (memo,) = told["memos"]
    begins, ends = memo["from"] / RATE, memo["from"] / RATE + len(memo["pcm"]) / RATE
    assert 3.8 < begins <= 4.7  # the first word, with what came before it
    assert ends >= 7.2
    assert not told["open"]


def test_what_is_sent_is_the_sound_itself_without_a_gap(feed):
    sound = room(20, (4, 3, -20), (9, 2, -20))
    (memo,) = feed(sound)["memos"]  # two seconds of thought do not cut a memo
    heard = memo["pcm"] / 32767
    near = memo["from"] + np.arange(-400, 400)  # it is told in portions, and heard in frames
    begin = min(near, key=lambda at: np.abs(heard[:2000] - sound[at : at + 2000]).max())
    assert np.abs(heard - sound[begin : begin + len(heard)]).max() < 1 / 32767


def test_a_pause_of_more_than_four_seconds_ends_a_memo_and_the_next_is_another(feed):
    told = feed(room(26, (3, 2, -20), (13, 2, -20)))
    first, second = told["memos"]
    assert first["to"] / RATE == pytest.approx(9.2, abs=0.5)
    assert 11.8 < second["from"] / RATE <= 12.7


def test_words_at_once_after_the_touch_are_taken(feed):
    told = feed(room(10, (0.15, 2, -20)))
    assert told["memos"][0]["from"] / RATE <= 0.3


def test_a_drill_that_starts_is_room_after_some_seconds_and_speech_over_it_is_heard(feed):
    sound = room(40, (25, 2, -12))
    sound[10 * RATE :] += noise(30, -30, seed=8)
    told = feed(sound)
    drill, spoken = told["memos"]
    assert drill["from"] / RATE == pytest.approx(9.2, abs=0.5)
    assert (drill["to"] - drill["from"]) / RATE < 12
    assert 23.8 < spoken["from"] / RATE <= 24.7


def test_a_talk_without_pause_is_cut_and_goes_on_without_a_gap(feed):
    sound = noise(150, -50) + phrase(150, -20)
    told = feed(sound)
    assert len(told["memos"]) == 2
    first, second = told["memos"]
    assert 100 <= len(first["pcm"]) / RATE <= 120.1
    assert second["from"] == pytest.approx(first["from"] + len(first["pcm"]), abs=RATE * 0.03)
    assert len(first["pcm"]) + len(second["pcm"]) >= 149 * RATE


def test_nothing_is_heard_while_the_phone_speaks(feed):
    """The tool's own voice, as loud as a person's, comes back in: no memo, nor part of one."""
    sound = room(30, (3, 2, -20), (8, 5, -15), (20, 2, -20))
    told = feed(sound, mutes=[(7.9, True), (13.4, False)])
    first, second = told["memos"]
    assert first["from"] / RATE + len(first["pcm"]) / RATE <= 7.95
    assert second["from"] / RATE >= 18.5
    assert feed(sound)["memos"][0]["to"] / RATE > 16  # what the test would see without muting
