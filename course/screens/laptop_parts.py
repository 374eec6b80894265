"""Parts of the Laptops page: a bundle to carry away, and a bundle taken in after a rehearsal."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from contextvars import copy_context
from pathlib import Path
from typing import TypeVar

import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from course.access import Act, Sight, may
from course.answers.laptops import Laptop
from course.answers.merging import laptop_number, merged_words
from course.exchange.merging import Merged, hand_over, merge
from course.screens import controls, offers
from course.screens.frame import Screen, literal, telling
from course.storage.appending import Progress
from course.storage.merging import waiting_files
from course.words import plural

_HANDED = "laptops-handed"
_T = TypeVar("_T")


def who_may(screen: Screen) -> dict[str, str]:
    """Who may bring laptops together: id to name."""
    return {known.id: known.shown for known in screen.centre.people if may(known.roles, Act.SET_UP)}


def mark(one: Laptop) -> str:
    """A shape before colour: full where nothing is missing, half where something waits, a cross where it is lacking."""
    if one.to_bring:
        return "✕"
    return "■" if one.is_this or one.to_get == 0 else "◪"


def hand_over_buttons(screen: Screen) -> None:
    """Make the files when they are asked for: that reads the whole ledger."""
    st.markdown(
        "All events of the centre in one file. Names and texts travel sealed; the other laptop reads them with the "
        "file of keys. Carry the keys apart from the bundle, give them to nobody else, and delete them afterwards."
    )
    head = screen.ledger.head().hash
    if controls.button(Act.BACKUP, "Put the bundle together", key="hand-over"):
        made = telling(_handed)(screen)
        st.session_state[_HANDED] = (head, made) if made else None
        if made is None:
            st.rerun()
    kept = st.session_state.get(_HANDED)
    if kept and kept[0] == head:
        bundle, keys = kept[1]
        offers.offer(Sight.BUNDLE_FILE, "Download bundle.zip", bundle, "bundle.zip", "application/zip")
        offers.offer(Sight.BUNDLE_FILE, "Download the keys", keys, "bundle-keys.json", "application/json")


def _handed(screen: Screen) -> tuple[bytes, bytes]:
    with tempfile.TemporaryDirectory(prefix="loopledger-") as place:
        out, keys = Path(place) / "bundle.zip", Path(place) / "keys.json"
        _with_bar("Putting it together", lambda step: hand_over(screen.ledger, out, keys=keys, progress=step))
        return out.read_bytes(), keys.read_bytes()


def _with_bar(words: str, act: Callable[[Progress], _T]) -> _T:
    """Run an act beside the page, which shows how far it is: the ledger's own thread cannot draw."""
    share = [0.0]

    def step(done: int, of: int) -> None:
        share[0] = min(1.0, done / max(1, of))

    bar = st.progress(0.0, words)
    with ThreadPoolExecutor(1) as beside:
        job = beside.submit(copy_context().run, act, step)  # so that what it saves is noted with the page's act
        while wait([job], timeout=0.2).not_done:
            bar.progress(share[0], words)
    bar.empty()
    return job.result()


def take_in_form(screen: Screen, actor: str) -> None:
    """Take files, rehearse, ask whose devices they are, and take in."""
    st.markdown("Nothing that is here is changed or taken away. First it is rehearsed, and you see what would come.")
    bundles = st.file_uploader("Bundles", type="zip", accept_multiple_files=True, key="laptops-bundles")
    keys = st.file_uploader("The file of keys, if you have it", type="json", key="laptops-keys")
    st.caption("Files above 16 MB: course merge FOLDER FILE, on this machine.")
    waiting = len(waiting_files(screen.ledger.folder))
    look = f"Look at what waits here: {plural(waiting, 'bundle')}"
    if not bundles and not (waiting and st.checkbox(look, key="laptops-waiting")):
        return
    asked = telling(_merge)(screen, actor, bundles, keys, (), rehearse=True)
    if asked is None:
        st.warning(literal(st.session_state.pop("told", ("", ""))[1]))
        return
    strangers = {one.device: one.events for one in asked.brought.waiting if one.device}
    accept = tuple(
        device
        for device, events in strangers.items()
        if st.checkbox(
            f"Laptop {laptop_number(device)}, with {plural(events, 'event')}, is one of ours", key=f"ours-{device}"
        )
    )
    merged = telling(_merge)(screen, actor, bundles, keys, accept, rehearse=True) if accept else asked
    if merged is None:
        st.warning(literal(st.session_state.pop("told", ("", ""))[1]))
        return
    for line in merged_words(merged.brought, rehearsed=True, keys=merged.keys_taken, on_page=True):
        st.text(line)
    if controls.button(Act.SET_UP, "Take in", type="primary", key="take-in"):
        done = telling(_merge)(screen, actor, bundles, keys, accept, rehearse=False)
        if done:
            words = merged_words(done.brought, rehearsed=False, keys=done.keys_taken, on_page=True)
            st.session_state["told"] = ("done", "\n\n".join([*words, *done.notes]))
        st.rerun()


def _plain_name(told: str) -> str:
    """The name by which a browser told a file, as far as it can stand for one here: a sentence about it says it."""
    return "".join(letter for letter in told[-60:] if letter.isalnum() or letter in "-_ .").lstrip(". ") or "file"


def _merge(
    screen: Screen,
    actor: str,
    bundles: Sequence[UploadedFile],
    keys: UploadedFile | None,
    accept: tuple[str, ...],
    *,
    rehearse: bool,
) -> Merged:
    with tempfile.TemporaryDirectory(prefix="loopledger-") as place:
        files = [Path(place) / str(number) / _plain_name(one.name) for number, one in enumerate(bundles)]
        for file, uploaded in zip(files, bundles, strict=True):
            file.parent.mkdir()
            file.write_bytes(uploaded.getbuffer())
        key_file = Path(place) / _plain_name(keys.name) if keys else None
        if keys and key_file:
            key_file.touch(mode=0o600)
            key_file.write_bytes(keys.getbuffer())
        return _with_bar(
            "Rehearsing" if rehearse else "Taking in",
            lambda step: merge(
                screen.ledger, actor, files, keys=key_file, accept=accept, rehearse=rehearse, progress=step
            ),
        )
