"""A phone for the tests: a real Chromium over TLS, with a sound file as its microphone.

Words are pitches, as in `test_told.py`: a tone is a phrase, and a stand-in ear knows what it says.
"""

from __future__ import annotations

import base64
import hashlib
import wave
from pathlib import Path
from typing import Any

import numpy as np
from cryptography import x509
from cryptography.hazmat.primitives import serialization

from tests.desk.page.conftest import FLAGS

RATE = 16_000
# Speech is taken note of instead of being spoken: this machine has no voice.
VOICE = """
window.said = [];
window.AudioContext = class extends window.AudioContext {
  constructor(options) { super(options); window.sound = this; }
};
Object.defineProperty(window, 'speechSynthesis', { value: {
  cancel() {},
  speak(one) {
    const said = { words: one.text, from: Date.now() };
    if (one.text.trim()) window.said.push(said);
    setTimeout(() => { said.to = Date.now(); one.onend?.(); }, window.slow || 500);
  },
} });
"""


def talk(path: Path, *parts: tuple[int, float]) -> Path:
    """Write what the microphone hears: (pitch in Hz, 0 for silence; seconds)."""
    sound = [
        np.sin(2 * np.pi * pitch * np.arange(round(seconds * RATE)) / RATE) * 0.3 * bool(pitch)
        for pitch, seconds in parts
    ]
    samples = np.concatenate(sound) + np.random.default_rng(3).normal(0, 1e-4, sum(map(len, sound)))
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes((samples * 32767).astype("<i2").tobytes())
    return path


def pin(authority: bytes) -> str:
    """Give the flag by which Chromium trusts this authority, as a phone does that was told to."""
    key = x509.load_der_x509_certificate(authority).public_key()
    spki = key.public_bytes(
        serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    digest = base64.b64encode(hashlib.sha256(spki).digest()).decode()
    return f"--ignore-certificate-errors-spki-list={digest}"


def flags(microphone: Path, authority: bytes) -> list[str]:
    """Give Chromium's flags for a phone: its microphone, whom it trusts, where `desk.test` is."""
    return [
        *FLAGS,
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-audio-capture={microphone}%noloop",
        "--host-resolver-rules=MAP desk.test 127.0.0.1",
        pin(authority),
    ]


class Phone:
    """A phone that was paired with a served desk, on its page."""

    def __init__(self, browser: Any, served: Any, host: str = "127.0.0.1", **context: Any) -> None:
        given = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
        self.context = browser.new_context(**(given | context))
        self.context.add_init_script(VOICE)
        self.faults: list[str] = []
        self.served = served
        self.open(served.link("phone").replace("127.0.0.1", host))

    def open(self, url: str) -> None:
        """Open a page of the phone's own, and wait until it is ready."""
        self.page = self.context.new_page()
        self.page.on("pageerror", lambda e: self.faults.append(str(e)))
        self.page.goto(url)
        self.page.wait_for_selector("body[data-ready]")

    def snap(self, photo: Path) -> None:
        """Take a photo, as the phone's camera hands it to the page."""
        self.page.locator("input[capture=environment]").set_input_files(photo)

    def listen(self) -> None:
        """Touch the large target, and wait until the microphone is open."""
        self.page.locator("#listen").tap()
        self.page.wait_for_selector("body.listening")

    def stop(self) -> None:
        """Touch it again."""
        self.page.locator("#listen").tap()
        self.page.wait_for_selector("body:not(.listening)")

    def see(self, words: str, where: str = "main", timeout: float = 20_000) -> None:
        """Wait until the page shows words."""
        try:
            self.page.wait_for_function(
                "([where, words]) => document.querySelector(where).innerText.includes(words)",
                arg=[where, words],
                timeout=timeout,
            )
        except Exception as error:
            shown = self.page.inner_text("main")
            raise AssertionError(f"{words!r} is not shown in:\n{shown}") from error

    def safe(self) -> None:
        """Wait until the desk has all."""
        self.see("All that was sent is safe on the desk.", "#state")

    def kept(self) -> int:
        """Give how many things the browser's database holds."""
        return int(
            self.page.evaluate(
                """async () => {
                  const { open } = await import('/static/keep.js');
                  return (await (await open()).things()).length;
                }"""
            )
        )

    def close(self) -> None:
        """Close it; nothing may have gone wrong in its page."""
        self.context.close()
        assert self.faults == [], self.faults
