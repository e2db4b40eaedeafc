"""The shop's response, fitted to its log: when to fit anew, and what is kept of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.base.store import Store
from advisor.work import kept_fits
from advisor.work.outlooks import RESPONSE, SKILL

if TYPE_CHECKING:
    from advisor.work.shop_bench import ShopBench


def forget(store: Store) -> None:
    """Drop what was fitted: the shop is another one."""
    kept_fits.drop(store, RESPONSE)
    kept_fits.drop(store, SKILL)


def refit(bench: ShopBench, now_s: float) -> str:
    """Fit anew if the log has grown; say in one line what came of it."""
    return ""
