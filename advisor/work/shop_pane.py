"""What the Shop pane shows: sources, the shop's response and how well it told the past."""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.climate.shop.response import Response
from advisor.climate.shop.shop import Shop
from advisor.planning.words import Words, duration
from advisor.work import fetching
from advisor.work.outlook_views import ShopView

if TYPE_CHECKING:
    from advisor.work.shop_bench import ShopBench


def shop_view(bench: ShopBench, now_s: float) -> ShopView:
    """Gather everything the pane shows."""
    job = bench.job()
    shop = job.shop if job is not None and job.shop is not None else Shop()
    words = bench.words(now_s)
    response = bench.outlooks.response(shop)
    sources = fetching.source_views(bench.store, bench.settings, shop.place, words, now_s)
    return ShopView(
        shop,
        sources,
        response_text(response, shop),
        response.fitted,
        facts(response, words),
        log_days=response.log_days,
    )


def response_text(response: Response, shop: Shop) -> str:
    """Say in one line what the response rests on."""
    if response.fitted:
        return f"Fitted to {response.log_days:.0f} days of this shop's own log."
    why = f" ({response.reason})" if response.reason else ""
    return f"Usual figures for a {shop.kind} until three days of its own log are there{why}."


def facts(response: Response, words: Words) -> tuple[tuple[str, str], ...]:
    """Return what the response says of the shop, as label and value."""
    heat = response.thermal
    slow_h = 1.0 / heat.fabric_out_per_h if heat.fabric_out_per_h > 0 else float("inf")
    lost = "from its own heater" if response.loss_fitted else "by its kind and size"
    return (
        ("Air change", f"{response.air_change_per_h:.1f} an hour"),
        ("Walls and floor follow outdoors in", duration(slow_h)),
        ("Heat lost", f"{response.loss_w_k:.0f} W per {words.value(1.0, 'K')[2:]} ({lost})"),
        ("Damp is held in the fabric for", duration(1.0 / response.moisture.store_air_per_h)),
    )
