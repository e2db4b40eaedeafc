"""A real broker on this computer: retained, repeated, malformed, burst and reconnecting traffic.

Invented readings. The clock is the test's: it goes on a second with every message.
"""

from __future__ import annotations

import itertools
import json
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from advisor.base.errors import StoreError
from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.live.sensor import Broker as At
from advisor.climate.live.sensor import Sensor, SensorState, TopicValue
from advisor.climate.readings import Origin, ReadingTable
from advisor.work.sensors import Sensors
from advisor.work.workbench import Workbench
from tests.helpers.broker import Broker, Publisher, needs_broker, until
from tests.helpers.loopback import only_this_computer

pytestmark = needs_broker

START = 1_795_000_000
AIR = TopicValue("shed/north/air", "", "air_temp_c", "°C")
TIMED = TopicValue("shed/+/state", "$.t", "air_temp_c", "°C")
TIMED_RH = TopicValue("shed/+/state", "$.h", "rh_pct", "%")


class Clock:
    """A second on with every look, from any thread."""

    def __init__(self) -> None:
        self._count = itertools.count(START)
        self._lock = threading.Lock()

    def __call__(self) -> float:
        with self._lock:
            return float(next(self._count))


class Shop:
    """A bench whose sensors are polled until something is so."""

    def __init__(self, store: Store, root: Path, clock: Clock) -> None:
        self.bench = Workbench(store, root / "resources")
        self.clock = clock
        self.sensors = Sensors(self.bench, first_wait_s=0.05)
        self.sensors.start(clock)

    def set_up(self, port: int, *values: TopicValue, time_path: str = "") -> None:
        sensor = Sensor("north", "North wall", "mqtt", broker=At("127.0.0.1", port),
                        values=values or (AIR,), time_path=time_path)  # fmt: skip
        self.sensors.save(sensor)

    def state(self) -> SensorState:
        # No message is ahead of a poll, and no lease runs out between two.
        (found,) = self.sensors.poll(START + 5e4)
        return found

    def until(self, true: Callable[[SensorState], bool], what: str) -> SensorState:
        until(lambda: true(self.state()), what)
        return self.state()

    def connected(self) -> SensorState:
        return self.until(lambda s: "broker" not in s.text and "connected" not in s.text, "a link")

    def rows(self) -> ReadingTable:
        return reading_store.load(self.bench.store, 0, 2**40, "", (Origin.MEASURED,))


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    only_this_computer(monkeypatch, AssertionError("a test asked for the network"))


@pytest.fixture
def shop(store: Store, root: Path) -> Iterator[Shop]:
    made = Shop(store, root, Clock())
    yield made
    made.sensors.stop()


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    folder = tmp_path / "broker"
    folder.mkdir()
    made = Broker(folder)
    made.start()
    yield made
    made.stop()


@pytest.fixture
def publisher(broker: Broker) -> Iterator[Publisher]:
    made = Publisher(broker.port)
    yield made
    made.close()


def test_every_message_is_a_row(shop: Shop, broker: Broker, publisher: Publisher) -> None:
    shop.set_up(broker.port)
    shop.connected()
    for k in range(20):
        publisher.send("shed/north/air", f"{12 + k / 10:.1f}")
    found = shop.until(lambda s: s.rows_in == 20, "20 messages")
    assert (found.rows_kept, found.rows_repeated, found.rows_refused) == (20, 0, 0)
    assert shop.rows().columns["air_temp_c"].tolist() == [12 + k / 10 for k in range(20)]


def test_a_retained_message_does_not_count_until_a_live_one_comes(
    shop: Shop, broker: Broker, publisher: Publisher
) -> None:
    publisher.send("shed/north/air", "5.0", retain=True)
    shop.set_up(broker.port)
    found = shop.until(lambda s: s.rows_in == 1, "the retained message")
    assert (found.standing, found.rows_kept) == ("waiting", 0)
    assert "its age is not known" in found.doubt
    publisher.send("shed/north/air", "6.0", retain=True)
    found = shop.until(lambda s: s.rows_in == 2, "a live message")
    assert (found.rows_kept, dict(found.latest)) == (1, {"air_temp_c": 6.0})


def test_what_is_no_reading_is_counted(shop: Shop, broker: Broker, publisher: Publisher) -> None:
    shop.set_up(broker.port, TIMED)
    shop.connected()
    bad = ["", "{", '{"t": null}', "[]", b"\xff\x00", '{"t": {"t": 1}}', "9" * 70_000]
    for payload in bad:
        publisher.send("shed/north/state", payload)
    publisher.send("shed/north/state", '{"t": 12.5}')
    found = shop.until(lambda s: s.rows_in == len(bad) + 1, "all messages")
    assert (found.rows_kept, found.rows_refused) == (1, len(bad))
    assert "left out" in found.doubt


def test_a_burst_is_kept_whole(shop: Shop, broker: Broker, publisher: Publisher) -> None:
    shop.set_up(broker.port, TIMED, TIMED_RH, time_path="$.at")
    shop.connected()
    burst = [json.dumps({"t": 10 + k % 50 / 100, "h": 60 + k % 30 / 10, "at": START + k})
             for k in range(5000)]  # fmt: skip
    publisher.send_all("shed/north/state", burst)
    found = shop.until(lambda s: s.rows_in >= 5000, "the burst")
    assert (found.rows_in, found.rows_kept, found.rows_refused) == (5000, 5000, 0)
    assert shop.rows().time_s.tolist() == list(range(START, START + 5000))


def test_the_same_messages_again_are_not_doubled(
    shop: Shop, broker: Broker, publisher: Publisher
) -> None:
    shop.set_up(broker.port, TIMED, time_path="$.at")
    shop.connected()
    told = [json.dumps({"t": 10 + k / 10, "at": START + k}) for k in range(50)]
    publisher.send_all("shed/north/state", [*told, *told])
    found = shop.until(lambda s: s.rows_in == 100, "all of them")
    assert (found.rows_kept, found.rows_repeated) == (50, 50)


def test_a_broker_that_goes_and_returns(shop: Shop, broker: Broker, publisher: Publisher) -> None:
    shop.set_up(broker.port)
    shop.connected()
    publisher.send("shed/north/air", "12.0")
    shop.until(lambda s: s.rows_kept == 1, "the first message")
    publisher.close()
    broker.stop()
    shop.until(lambda s: "broker" in s.text, "the broker's end to be told")
    broker.start()
    shop.connected()
    again = Publisher(broker.port)
    again.send("shed/north/air", "12.1")
    again.close()
    assert shop.until(lambda s: s.rows_in == 2, "a message after it").rows_kept == 2


def test_a_broker_that_is_not_there_yet(shop: Shop, broker: Broker) -> None:
    broker.stop()
    shop.set_up(broker.port)
    found = shop.until(lambda s: "does not answer" in s.text, "that to be told")
    assert found.standing == "waiting"
    broker.start()
    shop.connected()


def test_with_a_time_in_the_message_what_came_while_away_is_caught_up(
    shop: Shop, broker: Broker, publisher: Publisher
) -> None:
    shop.set_up(broker.port, TIMED, time_path="$.at")
    shop.connected()
    shop.sensors.stop()
    told = [json.dumps({"t": 10 + k / 10, "at": START - 60 * k}) for k in range(30)]
    publisher.send_all("shed/north/state", told)
    shop.sensors.start(shop.clock)
    found = shop.until(lambda s: s.rows_in >= 30, "what was missed")
    assert found.rows_kept == 30


def test_without_one_what_came_while_away_is_not_taken_for_now(
    shop: Shop, broker: Broker, publisher: Publisher
) -> None:
    shop.set_up(broker.port)
    shop.connected()
    shop.sensors.stop()
    publisher.send("shed/north/air", "30.0")
    shop.sensors.start(shop.clock)
    shop.connected()
    publisher.send("shed/north/air", "12.0")
    found = shop.until(lambda s: s.rows_in >= 1, "a live message")
    assert (found.rows_in, dict(found.latest)) == (1, {"air_temp_c": 12.0})


def test_messages_wait_while_the_store_cannot_write(
    shop: Shop, broker: Broker, publisher: Publisher, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.set_up(broker.port)
    shop.connected()
    put = reading_store.put_table

    def full(*_: object) -> int:
        raise StoreError("the disk is full")

    monkeypatch.setattr(reading_store, "put_table", full)
    for k in range(5):
        publisher.send("shed/north/air", f"12.{k}")
    shop.until(lambda s: "not kept yet" in s.text, "the fault to be told")
    monkeypatch.setattr(reading_store, "put_table", put)
    found = shop.until(lambda s: s.rows_in == 5, "what waited")
    assert found.rows_kept == 5
    assert shop.rows().columns["air_temp_c"].tolist() == [12.0, 12.1, 12.2, 12.3, 12.4]
