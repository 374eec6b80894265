"""The order of one sheet as a sentence and a picture: what is known, what is not; telling it changes nothing."""

from __future__ import annotations

import json
import re
from base64 import b64decode
from dataclasses import asdict
from xml.etree import ElementTree

import pytest
from centre_builder import Centre, tap
from course_text import NO_FEATURES, mark, sheet, skill, step
from hypothesis import given
from hypothesis import strategies as st
from plain_standing_machine import closed

from course.actions.pad import take
from course.answers.order_told import OrderTold
from course.answers.pad import pad_state
from course.answers.skill_detail import SheetDetail, skill_detail
from course.assessment.attempts import judge_sheet
from course.assessment.order_seen import AnyOf, OrderSeen, PairSeen, order_seen, order_sentence
from course.assessment.step_order import order_blame, order_parts
from course.record.facts import OrderLine, Sheet
from course.screens.order_picture import drawn_order, order_image, order_signs, order_svg
from course.standards.rubric import Skill
from course.words import Mark, SheetSource

SVG = "{http://www.w3.org/2000/svg}"


def chain(count: int, *, critical: int = 0) -> Skill:
    """Steps s1 to sN, each after the one before it; one pair is critical where asked."""
    after = {number: (f"s{number - 1}",) if number > 1 else () for number in range(1, count + 1)}
    steps = [
        step(f"s{number}", after=before_it, after_critical=before_it if number == critical else ())
        for number, before_it in after.items()
    ]
    return skill(steps, reteach=1 if critical else 0)


def answer(first: int, second: int, *, fixed: bool = False, yes: bool = True) -> OrderLine:
    """The observer's answer about two steps of a chain."""
    return OrderLine(event="o", first_done=f"s{first}", should_come_first=f"s{second}", seen_so=yes, fixed_self=fixed)


def tapped(*order: int, orders: tuple[OrderLine, ...] = (), left_out: tuple[int, ...] = (), **more: object) -> Sheet:
    """A pad's sheet: steps done in this order, others left out."""
    done = [mark(f"s{number}") for number in order]
    out = [mark(f"s{number}", Mark.LEFT_OUT) for number in left_out]
    taps = tuple((f"s{number}", f"2026-10-22T15:10:{at:02}.000000Z") for at, number in enumerate(order))
    return sheet(*done, *out, orders=orders, first_taps=taps, **more)


def told(of: Sheet, by: Skill, observer: str = "Tamsin") -> str:
    return order_sentence(order_seen(of, by, NO_FEATURES), observer)


TOLD = [
    (chain(5), tapped(1, 2, 3, 4, 5), "Tapped 1, 2, 3, 4, 5: nothing out of order."),
    (
        chain(5), tapped(1, 2, 4, 3, 5, orders=(answer(4, 3),)),
        ("Tapped 1, 2, 4, 3, 5: step 4 came before step 3, seen so by Tamsin; out of order: step 3 or step 4 "
        "(one of them explains it)."),
    ),
    (
        chain(5), tapped(1, 2, 4, 3, 5, orders=(answer(4, 3, fixed=True),)),
        ("Tapped 1, 2, 4, 3, 5: step 4 came before step 3, seen so by Tamsin, put right unasked and still an error; "
        "out of order: step 3 or step 4 (one of them explains it)."),
    ),
    (
        chain(4), tapped(2, 3, 4, 1, orders=(answer(2, 1), answer(3, 1), answer(4, 1))),
        "Tapped 2, 3, 4, 1: steps 2, 3 and 4 came before step 1, seen so by Tamsin; out of order: step 1.",
    ),
    (
        chain(4), tapped(4, 1, 2, 3, orders=(answer(4, 1), answer(4, 2), answer(4, 3))),
        "Tapped 4, 1, 2, 3: step 4 came before steps 1, 2 and 3, seen so by Tamsin; out of order: step 4.",
    ),
    (
        chain(3), tapped(3, 2, 1, orders=(answer(3, 2), answer(3, 1), answer(2, 1))),
        ("Tapped 3, 2, 1: step 2 came before step 1 and step 3 came before steps 1 and 2, seen so by Tamsin; "
        "out of order: two of steps 1, 2 and 3."),
    ),
    (
        chain(6), tapped(2, 1, 4, 3, 6, 5, orders=(answer(2, 1), answer(6, 5))),
        ("Tapped 2, 1, 4, 3, 6, 5: step 2 came before step 1 and step 6 came before step 5, seen so by Tamsin; "
        "out of order: step 1 or step 2, and step 5 or step 6; nobody has said yet whether step 4 before step 3 was "
        "seen so."),
    ),
    (
        chain(4, critical=3), tapped(1, 3, 2, 4, orders=(answer(3, 2),)),
        "Tapped 1, 3, 2, 4: step 3 came before step 2, seen so by Tamsin, critical.",
    ),
    (
        chain(4, critical=3), tapped(1, 3, 2, 4, orders=(answer(3, 2, fixed=True),)),
        ("Tapped 1, 3, 2, 4: step 3 came before step 2, seen so by Tamsin, critical, put right unasked and still an "
        "error."),
    ),
    (
        chain(3), tapped(3, 1, 2, orders=(answer(3, 1, yes=False), answer(3, 2, yes=False))),
        "Tapped 3, 1, 2: step 3 before steps 1 and 2 was only tapped so, no fault.",
    ),
    (
        chain(3), tapped(1, 3, left_out=(2,)),
        "Tapped 1, 3: nothing out of order; step 2 was left out, which is no fault of order.",
    ),
    (
        chain(4), tapped(1, 2, left_out=(3, 4)),
        "Tapped 1, 2: nothing out of order; steps 3 and 4 were left out, which is no fault of order.",
    ),
    (
        chain(4), tapped(2, 3, whole_clean="w"),
        "Tapped 2, 3: nothing out of order; what one stroke marked clean has no order.",
    ),
    (chain(3), tapped(whole_clean="w"), "No order is known: one stroke for the whole attempt says nothing of it."),
    (chain(3), tapped(2), "No order is known: fewer than two steps were tapped as done."),
    (
        chain(3), tapped(source=SheetSource.SLATE, whole_clean="w"),
        "No order is known: the marks were copied from a slate.",
    ),
    (chain(3), tapped(source=SheetSource.FILE), "No order is known: the marks came from a file."),
    (
        chain(3), tapped(source=SheetSource.SLATE, orders=(answer(3, 2),)),
        ("Nothing is known of the order but what Tamsin wrote: step 3 came before step 2; out of order: step 2 or "
        "step 3 (one of them explains it)."),
    ),
]  # fmt: skip


@pytest.mark.parametrize(("by", "of", "sentence"), TOLD, ids=[sentence[:60] for *_, sentence in TOLD])
def test_the_order_is_one_sentence(by: Skill, of: Sheet, sentence: str) -> None:
    assert told(of, by) == sentence
    assert re.findall(r"[.!?](?=\s|$)", sentence) == ["."]


def test_a_step_left_out_between_hides_no_fault_s086() -> None:
    """The trap: 0 before 1 before 2, observed 2, 0, and 1 left out. The order is closed before 1 is dropped."""
    by, of = chain(3), tapped(3, 1, left_out=(2,))
    assert order_seen(of, by, NO_FEATURES).unanswered == ((3, 1),)
    seen = order_seen(of.model_copy(update={"orders": (answer(3, 1),)}), by, NO_FEATURES)
    assert seen.faults == (PairSeen(3, 1),)
    assert (seen.left_out, seen.possible) == ((2,), (AnyOf((1, 3)),))


def test_the_first_of_a_pair_left_out_is_an_omission_and_no_order_fault() -> None:
    of = tapped(3, left_out=(1, 2), orders=(answer(3, 2),))
    assert order_seen(of, chain(3), NO_FEATURES).faults == ()


def test_a_step_that_was_not_seen_has_no_place_in_the_order() -> None:
    """It was tapped, but what was tapped says that nobody saw it."""
    of = tapped(1, 2, 3)
    of = of.model_copy(update={"marks": (mark("s1"), mark("s2", Mark.NOT_SEEN), mark("s3", Mark.PROMPTED))})
    assert order_seen(of, chain(3), NO_FEATURES).sequence == (1, 3)


def test_a_correction_of_a_mark_is_no_second_doing() -> None:
    """Step 2 was tapped before step 1 and its mark changed to an error after it: nothing says that it was put right."""
    of = tapped(2, 1, orders=(answer(2, 1),))
    later = mark("s2", Mark.ERROR, "another", event="later")
    of = of.model_copy(update={"marks": (of.marks[1], later)})
    seen = order_seen(of, chain(3), NO_FEATURES)
    assert (seen.sequence, seen.faults) == ((2, 1), (PairSeen(2, 1),))


def test_of_two_live_answers_the_one_without_put_right_holds() -> None:
    of = tapped(2, 1, orders=(answer(2, 1, fixed=True), answer(2, 1)))
    assert order_seen(of, chain(3), NO_FEATURES).faults == (PairSeen(2, 1),)


@pytest.mark.parametrize("critical", [0, 3])
def test_put_right_is_shown_and_softens_nothing(critical: int) -> None:
    by = chain(4, critical=critical)
    plain, fixed = (tapped(1, 3, 2, 4, orders=(answer(3, 2, fixed=how),)) for how in (False, True))
    assert judge_sheet(fixed, by, NO_FEATURES) == judge_sheet(plain, by, NO_FEATURES)
    assert told(fixed, by) != told(plain, by)


@st.composite
def sheets_of_a_poset(draw: st.DrawFn) -> tuple[Skill, Sheet]:
    """Up to seven steps in a random partial order, tapped in some order; some left out, some pairs confirmed."""
    count = draw(st.integers(3, 7))
    arrows = draw(st.sets(st.tuples(st.integers(1, count), st.integers(1, count)), max_size=10))
    after = {b: tuple(f"s{a}" for a in range(1, b) if (a, b) in arrows) for b in range(1, count + 1)}
    done = draw(st.permutations(range(1, count + 1)))
    left_out = draw(st.sets(st.sampled_from(done), max_size=2))
    pairs = [(done[i], done[j]) for i in range(count) for j in range(i + 1, count) if done[i] > done[j]]
    said = draw(st.lists(st.tuples(st.sampled_from(pairs), st.booleans(), st.booleans()))) if pairs else []
    orders = tuple(answer(*pair, yes=yes, fixed=yes and fixed) for pair, yes, fixed in said)
    by = skill([step(f"s{n}", after=after[n]) for n in after], reteach=0)
    return by, tapped(*(n for n in done if n not in left_out), left_out=tuple(left_out), orders=orders)


@given(sheets_of_a_poset())
def test_what_is_told_is_what_the_sheet_is_judged_by(made: tuple[Skill, Sheet]) -> None:
    """Certain steps, the fewest, and every step that may be to blame are those of the judgement."""
    by, of = made
    seen, blame = order_seen(of, by, NO_FEATURES), judge_sheet(of, by, NO_FEATURES).order
    assert {f"s{number}" for number in seen.certain} == set(blame.certain)
    assert {f"s{number}" for one in seen.possible for number in one.steps} == set(blame.possible)
    assert len(seen.certain) + sum(one.count for one in seen.possible) == blame.fewest
    assert told(of, by).count(".") == 1


@given(sheets_of_a_poset())
def test_every_pair_tapped_the_wrong_way_is_told_in_one_place(made: tuple[Skill, Sheet]) -> None:
    """By the definition: earlier in the taps, later in the closed order, both done."""
    by, of = made
    seen = order_seen(of, by, NO_FEATURES)
    rubric = closed({(one.id, other) for one in by.steps for other in one.after})
    wrong = {
        (a, b) for i, a in enumerate(seen.sequence) for b in seen.sequence[i + 1 :] if (f"s{a}", f"s{b}") in rubric
    }
    faults = {(fault.first_done, fault.should_come_first) for fault in seen.faults}
    both_done = {pair for pair in faults if set(pair) <= set(seen.sequence)}
    places = [both_done, set(seen.only_tapped), set(seen.unanswered)]
    assert set.union(*places) == wrong
    assert sum(map(len, places)) == len(wrong)


@given(st.sets(st.tuples(st.integers(0, 9), st.integers(0, 9)).filter(lambda pair: pair[0] > pair[1]), max_size=9))
def test_parts_share_no_step_and_their_fewest_add_up(numbers: set[tuple[int, int]]) -> None:
    pairs = {(str(later), str(earlier)) for later, earlier in numbers}
    parts = order_parts(pairs)
    steps = [{step for pair in part for step in pair} for part in parts]
    assert sorted(pair for part in parts for pair in part) == sorted(pairs)
    assert sum(map(len, steps)) == len(set[str]().union(*steps))
    assert sum(order_blame(part).fewest for part in parts) == order_blame(pairs).fewest


# --- the picture -----------------------------------------------------------------------------------------------------


def drawn(seen: OrderSeen) -> ElementTree.Element:
    return ElementTree.fromstring(order_svg(seen))  # noqa: S314 - our own text


def words_in(picture: ElementTree.Element) -> list[str]:
    return [str(text.text) for text in picture.iter(f"{SVG}text")]


def test_the_picture_has_every_step_in_its_place_and_one_arc_for_each_pair() -> None:
    seen = order_seen(
        tapped(1, 5, 4, 3, left_out=(2,), orders=(answer(5, 4), answer(5, 3, fixed=True))),
        chain(5, critical=5), NO_FEATURES,
    )  # fmt: skip
    picture = drawn(seen)
    arcs = [path for path in picture.iter(f"{SVG}path") if "C" in path.get("d", "")]
    assert sorted(path.get("stroke-width", "") for path in arcs) == ["2", "2", "5"]
    assert [path.get("stroke-dasharray") for path in arcs].count("4 4") == 1  # 4 before 3 is not answered
    assert sorted(words_in(picture)) == sorted(["1", "5", "4", "3", "C", "F", "?", "left out", "2"])
    assert order_signs(seen) == (
        "ring in a ring: one of these explains it · thick, C: critical · F: put right unasked · "
        "?: not answered yet · dashed ring: left out"
    )


def test_the_picture_fits_a_small_phone_and_has_one_ink() -> None:
    """Nine steps, as many as a shipped skill has at most, on 320 px; no text below 14 px, no hue at all."""
    seen = order_seen(tapped(*range(9, 0, -1), orders=(answer(9, 1),)), chain(9), NO_FEATURES)
    picture = drawn(seen)
    assert int(picture.get("width", "999")) <= 320
    assert picture.get("font-size") == "14"
    colours = set(re.findall(r"#([0-9a-f]{6})", order_svg(seen)))
    assert all(colour[:2] == colour[2:4] == colour[4:] for colour in colours)


def test_certain_steps_are_full_and_the_others_a_ring_in_a_ring() -> None:
    late = order_seen(tapped(2, 3, 1, orders=(answer(2, 1), answer(3, 1))), chain(3), NO_FEATURES)
    either = order_seen(tapped(2, 1, 3, orders=(answer(2, 1),)), chain(3), NO_FEATURES)
    assert [c.get("fill") for c in drawn(late).iter(f"{SVG}circle")].count("#111111") == 1
    assert len(list(drawn(either).iter(f"{SVG}circle"))) == 5


@pytest.mark.parametrize("of", [tapped(whole_clean="w"), tapped(source=SheetSource.SLATE, orders=(answer(3, 2),))])
def test_no_picture_where_no_order_is_known(of: Sheet) -> None:
    seen = order_seen(of, chain(3), NO_FEATURES)
    told_so = OrderTold(order_sentence(seen, "Tamsin"), seen)
    assert (order_svg(seen), order_image(told_so)) == ("", "")
    assert drawn_order(asdict(told_so)) == {"sentence": told_so.sentence, "picture": "", "signs": ""}


def test_the_sentence_stands_for_the_picture_and_a_name_in_it_is_no_markup() -> None:
    seen = order_seen(tapped(2, 1, orders=(answer(2, 1),)), chain(3), NO_FEATURES)
    image = order_image(OrderTold(order_sentence(seen, 'Zoë "<i>" O'), seen))
    assert 'alt="Tapped 2, 1: step 2 came before step 1, seen so by Zoë &quot;&lt;i&gt;&quot; O;' in image
    plain = json.loads(json.dumps(asdict(OrderTold("One.", seen))))  # as a pad's state is handed on
    picture = drawn_order(plain)
    assert picture is not None
    assert b64decode(picture["picture"].split(",")[1]).decode() == order_svg(seen)


# --- from the tap to the attempt -------------------------------------------------------------------------------------


def marked_out_of_order(c: Centre, kind: str, **answered: bool) -> str:
    """The second step tapped first, and the observer's answer; closed. Returns the attempt."""
    opened = c.open()
    steps = ["co-close", "co-hand", "co-out", "co-hold"]
    items = [
        tap(c, opened, "marks_given/1", {"marks": [{"step": step_id, "mark": "done"}]},
            tapped_at=f"2026-10-22T15:10:0{at}.000Z")
        for at, step_id in enumerate(steps)
    ]  # fmt: skip
    pair = {"first_done": "co-close", "should_come_first": "co-hand", "seen_so": True}
    items.append(tap(c, opened, kind, pair | answered))
    items.append(tap(c, opened, "attempt_closed/1", {"how": "completed"}, tapped_at="2026-10-22T15:12:00.000Z"))
    assert take(c.ledger, items).refused == ()
    return str(opened.attempt)


def sheet_of(c: Centre, attempt: str) -> SheetDetail:
    seen = c.view()
    detail = skill_detail(c.ledger, seen, c.amaru, "mp-close-out", seen.last_day)
    return next(one for one in detail.attempts if one.attempt == attempt).sheets[0]


def test_an_answer_with_put_right_goes_from_the_tap_to_the_attempt(small_centre: Centre) -> None:
    """On the pad it is told to who marks, behind the standing with their name; it is a minor error all the same."""
    c = small_centre
    attempt = marked_out_of_order(c, "order_answered/2", fixed_self=True)
    fact = c.attempt(attempt)
    assert fact.sheets[0].orders[0].fixed_self
    on_pad = pad_state(c.ledger, fact, fact.sheets[0].id)["order"]
    assert on_pad["sentence"] == (
        "Tapped 2, 1, 3, 4: step 2 came before step 1, seen so by you, put right unasked and still an error; "
        "out of order: step 1 or step 2 (one of them explains it)."
    )
    detail = sheet_of(c, attempt)
    name = c.view().name(c.lead)
    assert detail.order.sentence == on_pad["sentence"].replace("by you", f"by {name}")
    seen = c.view()
    whole = skill_detail(c.ledger, seen, c.amaru, "mp-close-out", seen.last_day)
    assert whole.attempts[-1].outcome == "minor"
    assert detail.order.sentence in whole.text()


def test_an_older_answer_reads_as_ever(small_centre: Centre) -> None:
    c = small_centre
    fact = c.attempt(marked_out_of_order(c, "order_answered/1"))
    assert [(line.seen_so, line.fixed_self) for line in fact.sheets[0].orders] == [(True, False)]


def test_a_pad_that_nothing_was_tapped_on_says_nothing_of_the_order(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open()
    assert pad_state(c.ledger, c.attempt(opened.attempt), opened.sheet)["order"] is None


def test_an_answer_can_be_taken_back(small_centre: Centre) -> None:
    """Undo takes the newer form back as it takes the older one."""
    c = small_centre
    opened = c.open()
    pair = {"first_done": "co-close", "should_come_first": "co-hand", "seen_so": True, "fixed_self": True}
    said = tap(c, opened, "order_answered/2", pair)
    assert take(c.ledger, [said, tap(c, opened, "withdrawn/1", {"withdraws": said["id"]})]).refused == ()
    assert c.attempt(opened.attempt).sheets[0].orders == ()


def test_a_slate_says_that_it_has_no_order(small_centre: Centre) -> None:
    c = small_centre
    assert sheet_of(c, c.enter()).order.sentence == "No order is known: the marks were copied from a slate."
