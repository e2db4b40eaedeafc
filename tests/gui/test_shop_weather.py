"""A weather file chosen in the Shop pane, on the real bench with its demo job."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from advisor.ui.main_window import MainWindow

from .conftest import NOW_S, Settle


def test_a_weather_file_becomes_the_weather_outdoors(
    window: MainWindow, tmp_path: Path, settle: Settle
) -> None:
    """The real bench: an hourly file reaching two days ahead is chosen and told with its name."""
    lines = ["time,air_temp_c,dew_point_c"]
    first = int(NOW_S) // 3600 * 3600
    for hour in range(-24, 49):
        at = datetime.fromtimestamp(first + 3600 * hour, UTC)
        lines.append(f"{at:%Y-%m-%dT%H:%M:%SZ},{10 + hour % 24 / 4:.1f},4.0")
    file = tmp_path / "outdoors.csv"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    window.open_pane("shop")
    settle(window)
    window.shop.take_weather(file)
    settle(window)
    bench = window.desk.bench
    assert bench.settings.text("forecast_source") == "file"
    used = bench.source_in_use(NOW_S)
    assert used is not None
    assert used.id == "file"
    window.shop.take_weather(tmp_path / "none.csv")
    settle(window)
    assert "none.csv" in window.desk.messages._text.text()
