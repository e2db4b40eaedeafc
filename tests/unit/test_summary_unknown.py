"""A coat not known without a gap: the line says what is not known, and why."""

from __future__ import annotations

from advisor.record.review.limits import Found
from advisor.record.review.summary import summary
from advisor.record.review_types import LimitInForce, LimitReview
from tests.helpers.products import UTC_WORDS


def found(worst: float | None) -> Found:
    limit = LimitInForce(
        rule="humidity", label="Humidity", low=None, high=85.0, unit="%", whose="data sheet"
    )
    review = LimitReview(limit, "to_tack_free", "not known", (), worst, 0.0, "typed", 1.0, 1.0)
    return Found(review, "rh", ())


def test_no_limit_is_told_as_no_limit() -> None:
    told = summary("not known", [], [], UTC_WORDS)
    assert told.startswith("Not known: no limit is kept for this coat")


def test_a_limit_without_a_value_is_named() -> None:
    told = summary("not known", [found(None)], [], UTC_WORDS)
    assert told == "Not known: humidity, since no reading tells of it. No reading to go by."


def test_what_was_read_is_never_called_nothing_read() -> None:
    told = summary("not known", [found(70.0)], [], UTC_WORDS)
    assert told.startswith("Not known: humidity, since it is not known when its time was over.")
    assert "nothing was read" not in told
