"""The sections of the Observers page: words first, then counts step by step."""

from __future__ import annotations

import streamlit as st

from course.answers.observers import ObserversAnswer, Pair, PracticeLine
from course.screens.frame import plain
from course.words import plural


def pairs(answer: ObserversAnswer) -> None:
    """Two sheets on one attempt: specific agreement first, then who records fewer errors, then by step."""
    st.subheader("Two sheets on one attempt", anchor=False)
    if answer.left_out:
        st.markdown(f"{plural(answer.left_out, 'attempt')} left out: corrections of them disagree. Settle them first.")
    if not answer.pairs:
        st.markdown("No attempt has two evaluating sheets.")
    for pair in answer.pairs:
        st.markdown(f"**{plain(pair.first)} and {plain(pair.second)}**")
        st.markdown(plain(pair.agreement_words))
        if pair.difference_words and pair.difference_words != answer.sentence:
            st.markdown(plain(pair.difference_words))
        if pair.enough and pair.shared.errors_are_rare:
            st.markdown("Errors are rare here: read the specific agreement, not the chance-corrected numbers.")
        if pair.enough and pair.steps:
            _by_step(pair)


def _by_step(pair: Pair) -> None:
    with st.expander(f"Step by step: {plural(len(pair.steps), 'step')} on which they differed"):
        first, second = plain(pair.first), plain(pair.second)
        lines = [
            f"| {plain(d.title)}: {plain(d.step)} | {d.only_first} | {d.only_second} | {d.both} | {d.attempts} |"
            for d in pair.steps
        ]
        head = f"| Step | only {first} | only {second} | both | attempts |\n|:--|--:|--:|--:|--:|\n"
        st.markdown(head + "\n".join(lines))
        st.caption("Single steps are too few to say anything of a person: they say what to look at together.")


def practising(answer: ObserversAnswer) -> None:
    """Practice sheets apart: hit, missed and invented, step by step where something can be critical."""
    st.subheader("Practice sheets against evaluating ones", anchor=False)
    if not answer.practising:
        st.markdown("No practice sheet yet.")
    for one in answer.practising:
        st.markdown(plain(one.words))
        if one.alone:
            st.markdown(f"{plural(one.alone, 'practice sheet')} more without an evaluating sheet beside it.")
        lines = [_practice_line(line) for line in one.lines if line.anything]
        if lines:
            with st.expander(f"Step by step: {plural(len(lines), 'step')} with an error on either side"):
                st.markdown("\n".join(lines))


def _practice_line(line: PracticeLine) -> str:
    counts = {"hit": line.hit, "missed": line.missed, "not seen": line.unseen, "invented": line.invented}
    told = ", ".join(f"{count} {word}" for word, count in counts.items() if count)
    return f"- {'▌ critical step: ' if line.can_be_critical else ''}{plain(line.title)}: {plain(line.step)}: {told}"


def severities(answer: ObserversAnswer) -> None:
    """The rest, by odds within the same student and skill."""
    st.subheader("On the same student and skill, where nobody else scored the attempt", anchor=False)
    if answer.links:
        st.markdown(plain(answer.links))
    for line in answer.severities:
        st.markdown(plain(line.words))
    if not answer.severities:
        st.markdown("Nothing to compare yet.")
