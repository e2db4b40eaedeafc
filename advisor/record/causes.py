"""Why did it dull, peel, bubble? Possible causes of a defect, ranked by the coat's own record."""

from __future__ import annotations

from advisor.record.cause_checks import Answer, Scene
from advisor.record.cause_table import SUSPECTS, Suspect
from advisor.record.review.coat import parts_of
from advisor.record.review.look import Look
from advisor.record.review_types import Cause, Evidence

#: Evidence against weighs less than evidence for: a record rarely holds everything.
AGAINST = 0.75
#: The usual order counts only between causes for which nothing else speaks.
FIRST = 0.1


def causes(defect: str, look: Look) -> tuple[Cause, ...]:
    """Rank what may have caused a defect of `kinds.DEFECTS`, likeliest first; none if not known.

    `look` is at the coat that shows it. Equal weights stay in the usual order of the trade.
    """
    suspects = SUSPECTS.get(defect, ())
    scene = Scene(look, parts_of(look))
    found = [_cause(suspect, k, scene) for k, suspect in enumerate(suspects)]
    return tuple(sorted(found, key=lambda cause: -cause.weight))


def _cause(suspect: Suspect, place: int, scene: Scene) -> Cause:
    answers = [
        (weight, answer) for weight, check in suspect.checks if (answer := check(scene)) is not None
    ]
    weight = FIRST / (1 + place)
    for each, answer in answers:
        weight += {"for": each, "against": -AGAINST * each}.get(answer.side, 0.0)
    return Cause(
        name=suspect.name,
        weight=weight,
        for_it=_told(answers, "for"),
        against=_told(answers, "against"),
        not_known=tuple(a.text for _, a in answers if a.side == "not known"),
        next_step=suspect.next_step,
        source=suspect.source,
    )


def _told(answers: list[tuple[float, Answer]], side: str) -> tuple[Evidence, ...]:
    """The weightiest first."""
    chosen = sorted((a for a in answers if a[1].side == side), key=lambda a: -a[0])
    return tuple(Evidence(side == "for", a.text, a.entry_number) for _, a in chosen)
