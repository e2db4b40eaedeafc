"""Readings that come by themselves: the shop's sensors, followed, kept and sealed.

One window follows them at a time, whichever comes first; another shows what that one keeps.
"""

from __future__ import annotations

import hashlib
import json
import platform
import re
import threading
import uuid
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from advisor.base.errors import AdvisorError, InputError, StoreError
from advisor.climate import reading_store
from advisor.climate.live.sensor import Sensor, SensorState, from_json, to_json
from advisor.climate.live.standing import doubt_of, lasts_s, standing
from advisor.work import sensor_rows
from advisor.work.sensor_rows import Standing

if TYPE_CHECKING:
    from advisor.climate.live.follow import Batch, Follower
    from advisor.climate.live.judge import Neighbour
    from advisor.record.entry import Entry
    from advisor.work.kept import Kept

#: How long a window that follows is taken to do so without saying it again.
LEASE_S = 30.0
_LEASE = " follower"
_ID = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")
#: How old what others measured may be to tell °F from °C in a sensor's first message.
KNOWN_S = 86400


class Sensors:
    """The shop's sensors. `poll` and `seal` belong on a worker; every call may be from any thread.

    `first_wait_s` is how long a listener waits before it tries a broker again.
    """

    def __init__(self, bench: Kept, *, first_wait_s: float = 1.0) -> None:
        self._bench = bench
        self._first_wait_s = first_wait_s
        self._lock = threading.RLock()
        self._me = uuid.uuid4().hex
        self._leased_until_s = 0.0
        self._now: Callable[[], float] | None = None
        self._followers: dict[str, tuple[Sensor, Follower]] = {}
        self._troubles: dict[str, str] = {}

    # --- setting up ----------------------------------------------------------------------

    def all(self) -> tuple[Sensor, ...]:
        """Return the sensors set up, by name."""
        with self._bench.store.read() as db:
            rows = db.execute("SELECT json FROM sensor").fetchall()
        return tuple(sorted((from_json(row[0]) for row in rows), key=lambda s: (s.name, s.id)))

    def save(self, sensor: Sensor) -> None:
        """Keep a sensor, new or changed; InputError for what cannot be."""
        checked = _checked(sensor)
        with self._bench.store.write() as db:
            db.execute(
                "INSERT INTO sensor (id, json) VALUES (?, ?) "
                "ON CONFLICT (id) DO UPDATE SET json = excluded.json",
                (checked.id, to_json(checked)),
            )

    def remove(self, sensor_id: str) -> None:
        """Remove a sensor; what it told stays, and is still to be sealed, under its id."""
        with self._lock:
            self._let_go(sensor_id)
            with self._bench.store.write() as db:
                db.execute("DELETE FROM sensor WHERE id = ?", (sensor_id,))
                db.execute("DELETE FROM sensor_state WHERE id = ?", (sensor_id,))

    def area_of(self, sensor: Sensor) -> str:
        """Return under which area a sensor's rows are kept: its zone, or the shop as a whole."""
        return sensor.zone or self._bench.readings_area

    # --- following -----------------------------------------------------------------------

    def start(self, now: Callable[[], float]) -> None:
        """Begin to listen; `now` gives UTC seconds whenever a message comes."""
        with self._lock:
            self._now = now

    def stop(self) -> None:
        """Stop listening and let another window follow; harmless twice."""
        with self._lock:
            for sensor_id in tuple(self._followers):
                self._let_go(sensor_id)
            self._now = None
            self._give_up_lease()

    def poll(self, now_s: float) -> tuple[SensorState, ...]:
        """Take what came, keep it, and return how every sensor stands, its own faults too."""
        with self._lock:
            sensors = self.all()
            if self._is_mine(now_s):
                self._follow(sensors, now_s)
                for sensor in sensors:
                    if sensor.id in self._followers:
                        self._take(sensor, now_s)
            else:
                for sensor_id in tuple(self._followers):
                    self._let_go(sensor_id)
            return self._states(sensors, now_s)

    def states(self, now_s: float) -> tuple[SensorState, ...]:
        """Return how every sensor stands now, as last kept."""
        return self._states(self.all(), now_s)

    def seal(self, now_s: float) -> tuple[Entry, ...]:
        """Put whole hours of every sensor's rows in the record; returns the entries added."""
        from advisor.work.sensor_seal import seal

        known = {sensor.id: sensor for sensor in self.all()}
        with self._bench.store.read() as db:
            ids = [row[0] for row in db.execute("SELECT DISTINCT sensor_id FROM sensor_row")]
        sensors = [known.get(i) or Sensor(i, i, "file") for i in ids]
        entries = [seal(self._bench, sensor, now_s) for sensor in sensors]
        return tuple(entry for entry in entries if entry is not None)

    # --- inner ---------------------------------------------------------------------------

    def _follow(self, sensors: tuple[Sensor, ...], now_s: float) -> None:
        """Have a follower for each sensor that is on, as it is set up now, and for no other."""
        wanted = {sensor.id: sensor for sensor in sensors if sensor.on}
        for sensor_id, (followed, _) in tuple(self._followers.items()):
            if wanted.get(sensor_id) != followed:
                self._let_go(sensor_id)
        for sensor_id, sensor in wanted.items():
            if sensor_id not in self._followers:
                try:
                    made = self._made(sensor)
                except AdvisorError as error:
                    self._troubles[sensor_id] = str(error)
                    continue
                if made is not None:
                    self._followers[sensor_id] = (sensor, made)

    def _made(self, sensor: Sensor) -> Follower | None:
        from advisor.climate.live.follow import BrokerFollower, FileFollower
        from advisor.climate.live.mqtt import Listener

        job = self._bench.job()
        zone = self._bench.settings.text("time_zone") if job is None else job.time_zone
        if sensor.kind != "mqtt":
            with self._bench.store.read() as db:
                stood = sensor_rows.stored(db, sensor.id) or Standing()
            return FileFollower(sensor, stood.memory, zone)
        if self._now is None:
            return None
        listener = Listener(sensor, self._now, self._client_id(sensor),
                            first_wait_s=self._first_wait_s)  # fmt: skip
        listener.start()
        return BrokerFollower(sensor, listener, zone)

    def _client_id(self, sensor: Sensor) -> str:
        """The same over restarts, another for every store and computer: a broker ends the first."""
        mine = f"{platform.node()}\n{self._bench.store.path.absolute()}\n{sensor.id}"
        return f"advisor{hashlib.sha256(mine.encode()).hexdigest()[:16]}"

    def _let_go(self, sensor_id: str) -> None:
        _, follower = self._followers.pop(sensor_id, (None, None))
        self._troubles.pop(sensor_id, None)
        if follower is not None:
            follower.stop()

    def _take(self, sensor: Sensor, now_s: float) -> None:
        follower = self._followers[sensor.id][1]
        batch = follower.take(now_s)
        self._troubles[sensor.id] = batch.trouble
        if not batch.came and batch.memory is None:
            follower.keep()
            return
        try:
            self._keep(sensor, batch, now_s)
        except StoreError as error:
            self._troubles[sensor.id] = f"not kept yet: {error}"
            follower.drop()
            return
        follower.keep()

    def _keep(self, sensor: Sensor, batch: Batch, now_s: float) -> None:
        area = self.area_of(sensor)
        with self._bench.store.read() as db:
            heard = sensor_rows.stored(db, sensor.id) is not None
        first = Standing() if heard else self._first(area, now_s)
        near = self._neighbours(sensor)
        with self._bench.store.write() as db:
            before = sensor_rows.stored(db, sensor.id) or first
            sensor_rows.keep_batch(db, sensor.id, area, batch, before, near)

    def _neighbours(self, sensor: Sensor) -> tuple[Neighbour, ...]:
        """Return what is known of the other sensors that are followed and tell of the same area."""
        from advisor.climate.live.judge import Neighbour

        area = self.area_of(sensor)
        others = [s for s in self.all() if s.on and s.id != sensor.id and self.area_of(s) == area]
        with self._bench.store.read() as db:
            stood = [(s, sensor_rows.stored(db, s.id)) for s in others]
        return tuple(Neighbour(st.tracks, lasts_s(s)) for s, st in stood if st is not None)

    def _first(self, area: str, now_s: float) -> Standing:
        """A sensor not heard yet is judged by what was read there in the day before."""
        from advisor.climate.live import judge

        latest: dict[str, tuple[float, int]] = {}
        for place in dict.fromkeys((self._bench.readings_area, area)):
            found = reading_store.latest(self._bench.store, int(now_s), place, max_age_s=KNOWN_S)
            latest |= {k: (v.value, v.time_s) for k, v in found.items() if k in judge.JUMPS}
        return Standing(tracks=judge.known_before(latest))

    def _states(self, sensors: tuple[Sensor, ...], now_s: float) -> tuple[SensorState, ...]:
        with self._bench.store.read() as db:
            stood = {s.id: sensor_rows.stored(db, s.id) or Standing() for s in sensors}
        return tuple(self._state(sensor, stood[sensor.id], now_s) for sensor in sensors)

    def _state(self, sensor: Sensor, stood: Standing, now_s: float) -> SensorState:
        times = [time_s for _, time_s in stood.latest.values()]
        last_s = float(max(times)) if times else None
        how = standing(sensor, last_s, now_s)
        trouble = self._troubles.get(sensor.id, "") if sensor.on else ""
        heard = "nothing heard yet" if last_s is None else ""
        doubts = [_ahead(last_s, now_s), doubt_of(stood.flags), stood.note, _refusals(stood)]
        return SensorState(
            sensor,
            how,
            last_s,
            "; ".join(text for text in (trouble, heard) if text),
            {name: value for name, (value, _) in stood.latest.items()},
            stood.came,
            stood.kept,
            stood.repeated,
            sum(stood.refused.values()),
            "; ".join(text for text in doubts if text),
        )

    def _is_mine(self, now_s: float) -> bool:
        """Whether this window is the one that follows; it says so anew when half the time is up."""
        if now_s < self._leased_until_s - LEASE_S / 2:
            return True
        try:
            with self._bench.store.write() as db:
                row = db.execute("SELECT json FROM sensor_state WHERE id = ?", (_LEASE,)).fetchone()
                held = json.loads(row[0]) if row else {}
                left_s = held.get("until_s", 0.0) - now_s
                if held.get("who", self._me) != self._me and 0.0 < left_s <= LEASE_S:
                    return False
                mine = json.dumps({"who": self._me, "until_s": now_s + LEASE_S})
                db.execute("INSERT OR REPLACE INTO sensor_state (id, json) VALUES (?, ?)",
                           (_LEASE, mine))  # fmt: skip
        except StoreError:
            return bool(self._followers)
        self._leased_until_s = now_s + LEASE_S
        return True

    def _give_up_lease(self) -> None:
        if not self._leased_until_s:
            return
        self._leased_until_s = 0.0
        try:
            with self._bench.store.write() as db:
                db.execute("DELETE FROM sensor_state WHERE id = ? AND json LIKE ?",
                           (_LEASE, f"%{self._me}%"))  # fmt: skip
        except StoreError:
            return  # it runs out by itself


def _ahead(last_s: float | None, now_s: float) -> str:
    """Say that a sensor's clock runs ahead: it looks live for so much longer than it is."""
    ahead_s = 0.0 if last_s is None else last_s - now_s
    return f"its clock is {ahead_s / 60:.0f} min ahead of this computer's" if ahead_s > 60 else ""


def _refusals(stood: Standing) -> str:
    """Say what was left out, the commonest reason first."""
    reasons = sorted(stood.refused.items(), key=lambda item: -item[1])
    return "; ".join(f"{count} left out: {why}" for why, count in reasons[:3])


def _checked(sensor: Sensor) -> Sensor:
    """Return a sensor as it is kept; InputError for what cannot be."""
    from advisor.climate.live.messages import check_value, query
    from advisor.climate.live.mqtt import check_broker
    from advisor.climate.logs.zones import zone_of

    if not _ID.fullmatch(sensor.id):
        raise InputError(f"sensor: found the id {sensor.id!r}; accepted: letters, digits, hyphens")
    if not sensor.name.strip():
        raise InputError("sensor: found no name; accepted: such as Shed, north wall")
    if not 0.5 <= sensor.step_s <= 86400:
        raise InputError(
            f"{sensor.name}: found a step of {sensor.step_s:g} s; accepted: up to a day"
        )
    if sensor.time_zone:
        zone_of(sensor.time_zone)
    if sensor.kind != "mqtt":
        if not sensor.path.strip():
            raise InputError(f"{sensor.name}: found no {sensor.kind}; accepted: its place")
        return sensor
    if sensor.broker is None or not sensor.values:
        raise InputError(f"{sensor.name}: found no broker or no topic; accepted: both")
    check_broker(sensor.broker)
    if sensor.time_path:
        query(sensor.time_path)
    return replace(sensor, values=tuple(check_value(value) for value in sensor.values))
