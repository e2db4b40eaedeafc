"""An MQTT listener (OASIS MQTT 3.1.1) on a thread of its own; what came waits until it is drained.

Without a time in the message the moment it came counts, so nothing may be kept for us while we
are away: the session is clean. With one, the broker keeps what we miss, at quality of service 1.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from advisor.base.errors import InputError
from advisor.climate.live.sensor import Broker, Sensor

if TYPE_CHECKING:
    from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
    from paho.mqtt.properties import Properties
    from paho.mqtt.reasoncodes import ReasonCode

#: Messages waiting, and bytes of them, at most; what comes beyond is counted, not kept.
MOST_MESSAGES, MOST_BYTES = 100_000, 64 << 20
#: No message of a sensor is longer.
LONGEST_BYTES = 64 << 10
KEEPALIVE_S = 30
FIRST_WAIT_S, LONGEST_WAIT_S = 1, 60
#: A listener that hangs in a connect is left to end by itself.
LEAVE_S = 0.5


@dataclass(frozen=True)
class Message:
    """What came: when, and whether the broker had kept it (`retained`) or sent it before."""

    topic: str
    payload: bytes
    arrived_s: float
    retained: bool = False
    again: bool = False


class Listener:
    """Listens for one sensor. `now` is asked for the moment a message comes.

    No other listener may use `client_id` (up to 23 letters and digits): the broker ends the first.
    """

    def __init__(
        self,
        sensor: Sensor,
        now: Callable[[], float],
        client_id: str,
        *,
        first_wait_s: float = FIRST_WAIT_S,
    ) -> None:
        if sensor.broker is None:
            raise InputError(f"{sensor.name}: found no broker; accepted: a host and a port")
        self._sensor, self._broker, self._now = sensor, sensor.broker, now
        self._client_id = client_id
        self._lock = threading.Lock()
        self._waiting: deque[Message] = deque()
        self._bytes = 0
        self._lost = 0
        self._trouble = "not connected yet"
        self._first_wait_s = first_wait_s
        self._client: Client | None = None
        self._thread: threading.Thread | None = None
        #: Set whenever something came, or the connection changed.
        self.news = threading.Event()

    @property
    def trouble(self) -> str:
        """What is wrong with the connection; empty while it stands."""
        return self._trouble

    @property
    def waiting(self) -> int:
        """How many messages wait to be drained."""
        return len(self._waiting)

    def start(self) -> None:
        """Begin to connect, and go on trying whenever the broker is away."""
        client = self._client = self._made()
        client.connect_async(self._broker.host, self._broker.port, KEEPALIVE_S)
        self._thread = threading.Thread(
            target=client.loop_forever, kwargs={"retry_first_connection": True},
            name=f"mqtt {self._sensor.id}", daemon=True,
        )  # fmt: skip
        self._thread.start()

    def stop(self) -> None:
        """End; harmless twice."""
        if self._client is not None:
            self._client.disconnect()
        if self._thread is not None:
            self._thread.join(LEAVE_S)
        self._client = self._thread = None

    def drain(self) -> tuple[tuple[Message, ...], int]:
        """Return what came, oldest first, and how many messages were too many to keep."""
        with self._lock:
            came, lost = tuple(self._waiting), self._lost
            self._waiting.clear()
            self._bytes = self._lost = 0
            self.news.clear()
        return came, lost

    def give_back(self, came: tuple[Message, ...], lost: int) -> None:
        """Put what was drained back in front: it could not be kept."""
        with self._lock:
            self._waiting.extendleft(reversed(came))
            self._bytes += sum(len(message.payload) for message in came)
            self._lost += lost

    def _made(self) -> Client:
        from paho.mqtt.client import Client
        from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

        keep = bool(self._sensor.time_path)
        client = Client(CallbackAPIVersion.VERSION2, self._client_id,
                        clean_session=not keep, protocol=MQTTProtocolVersion.MQTTv311)  # fmt: skip
        if self._broker.user:
            client.username_pw_set(self._broker.user, self._broker.password or None)
        if self._broker.tls:
            client.tls_set()
        # paho takes whole seconds by its types and any by its code.
        client.reconnect_delay_set(self._first_wait_s, LONGEST_WAIT_S)  # type: ignore[arg-type]
        client.on_connect = self._connected
        client.on_connect_fail = self._failed
        client.on_disconnect = self._disconnected
        client.on_message = self._came
        return client

    def _connected(
        self, client: Client, _data: object, _flags: ConnectFlags, code: ReasonCode,
        _more: Properties | None,
    ) -> None:  # fmt: skip
        if code.is_failure:
            self._say(f"{self._where} refuses: {str(code).lower()}")
            return
        client.subscribe([(topic, 1) for topic in topics_of(self._sensor)])
        self._say("")

    def _failed(self, _client: Client, _data: object) -> None:
        self._say(f"{self._where} does not answer")

    def _disconnected(
        self, _client: Client, _data: object, _flags: DisconnectFlags, code: ReasonCode,
        _more: Properties | None,
    ) -> None:  # fmt: skip
        if code.is_failure and not self._trouble.endswith("password"):
            self._say(self._trouble or f"{self._where} has gone; trying again")

    def _came(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        payload, topic = bytes(message.payload), _topic(message)
        with self._lock:
            full = len(self._waiting) >= MOST_MESSAGES or self._bytes + len(payload) > MOST_BYTES
            if full or len(payload) > LONGEST_BYTES or topic is None:
                self._lost += 1
            else:
                self._bytes += len(payload)
                self._waiting.append(
                    Message(topic, payload, self._now(), message.retain, message.dup)
                )
        self.news.set()

    @property
    def _where(self) -> str:
        return f"the broker at {self._broker.host}:{self._broker.port}"

    def _say(self, trouble: str) -> None:
        self._trouble = trouble
        self.news.set()


def _topic(message: MQTTMessage) -> str | None:
    """Return a message's topic, None where it is no text: to raise here would end the thread."""
    try:
        return message.topic
    except UnicodeDecodeError:
        return None


def topics_of(sensor: Sensor) -> tuple[str, ...]:
    """Return the topics a sensor listens to, each once."""
    return tuple(dict.fromkeys(value.topic for value in sensor.values))


def check_broker(broker: Broker) -> None:
    """Refuse what cannot be a broker's address with an InputError."""
    if any(c.isspace() for c in broker.host) or not _is_host(broker.host):
        raise InputError(f"broker: found {broker.host!r}; accepted: a host name or an address")
    if not 0 < broker.port < 65536:
        raise InputError(f"broker port: found {broker.port}; accepted: 1 to 65535, usually 1883")


def _is_host(host: str) -> bool:
    """Whether a name can be asked for at all: one with an empty or endless part ends the thread."""
    try:
        return bool(host.encode("idna"))
    except UnicodeError:
        return False
