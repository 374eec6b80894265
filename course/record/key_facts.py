"""What is true of a centre's keys, from their statements."""

from __future__ import annotations

from course.moments import training_day
from course.record.centre_key import CentreKey, fits, handing_over
from course.record.key_events import CentreKeyMade, CentreKeyReplaced
from course.record.statements import Statements


def build_keys(statements: Statements) -> tuple[CentreKey, ...]:
    """Return the centre's keys in the order of their statements; a replaced one says where its time ended.

    Taking such a statement back changes nothing: papers may have been signed meanwhile, and what was lost stays lost.
    A next key that says its old one signed it, and whose signature is not the old key's, is none of the centre's.
    """
    keys: dict[str, CentreKey] = {}
    for statement in statements:
        body = statement.body
        if not isinstance(body, CentreKeyMade | CentreKeyReplaced):
            continue
        day = training_day(body.observed).isoformat()
        if isinstance(body, CentreKeyReplaced):
            if not _vouched(body, keys):
                continue
            old = keys[body.replaces]
            if old.ended != "lost":  # once it was said to be lost, no later word makes it good again
                ended = {
                    "ended": body.why, "ended_day": day, "ended_chain": statement.event.chain,
                    "ended_seq": statement.event.seq, "replaced_by": body.public,
                }  # fmt: skip
                keys[old.public] = old.model_copy(update=ended)
        keys.setdefault(body.public, CentreKey(public=body.public, since=day))
    return tuple(keys.values())


def _vouched(body: CentreKeyReplaced, keys: dict[str, CentreKey]) -> bool:
    if body.replaces not in keys or body.public in keys:
        return False
    handed = handing_over(body.centre, body.replaces, body.public)
    return body.why == "lost" or fits(body.replaces, handed, body.signed or "")
