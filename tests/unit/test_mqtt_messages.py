"""What an MQTT message tells: number, unit, time, and what is no reading at all."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.base.errors import InputError
from advisor.climate.live.messages import RETAINED, Parsed, Parser, check_value, matches
from advisor.climate.live.mqtt import Listener, Message, check_broker
from advisor.climate.live.sensor import Broker, Sensor, TopicValue

NOW = 1_795_000_000.0
AIR = TopicValue("shed/air", "", "air_temp_c", "°C")


def sensor(*values: TopicValue, time_path: str = "") -> Sensor:
    return Sensor("shed", "Shed", "mqtt", broker=Broker("localhost"), values=values or (AIR,),
                  time_path=time_path)  # fmt: skip


def parse(payload: str | bytes, *values: TopicValue, time_path: str = "") -> Parsed:
    body = payload.encode() if isinstance(payload, str) else payload
    topic = (values or (AIR,))[0].topic
    return Parser(sensor(*values, time_path=time_path)).parse([Message(topic, body, NOW)])


def only(parsed: Parsed) -> dict[str, float]:
    assert len(parsed.arrived.time_s) == 1
    return {name: float(values[0]) for name, values in parsed.arrived.columns.items()}


@pytest.mark.parametrize(
    ("payload", "air"),
    [("21.4", 21.4), ("21,4", 21.4), (" 21.4 °C\n", 21.4), ("-3", -3.0), ("68 °F", 20.0),
     ("1.5e1", 15.0)],
)  # fmt: skip
def test_a_bare_number_is_read_as_loggers_write_it(payload: str, air: float) -> None:
    assert only(parse(payload))["air_temp_c"] == pytest.approx(air, abs=1e-9)  # of the conversion


@pytest.mark.parametrize(
    "payload", ["", "NaN", "unavailable", "offline", "inf", "--", "{", "abc", b"\xff\xfe\x00",
                "1" * 6000, "true"]
)  # fmt: skip
def test_what_is_no_number_is_counted_and_gives_no_row(payload: str | bytes) -> None:
    parsed = parse(payload)
    assert len(parsed.arrived.time_s) == 0
    assert parsed.counted.messages == 1 == sum(parsed.counted.refused.values())


@pytest.mark.parametrize(
    ("payload", "why"),
    [('{"t": null}', "no number in it"), ('{"t": true}', "no number in it"),
     ('{"t": [1]}', "no number in it"), ("{}", "no number in it"), ("[]", "no number in it"),
     ('{"t": 1e999}', "no number in it"), ('{"t": "x"}', "no number in it"),
     ('{"t": 21', "not the JSON or text that was expected"),
     ("[" * 100_000, "not the JSON or text that was expected")],
)  # fmt: skip
def test_json_without_the_number_is_refused_with_a_reason(payload: str, why: str) -> None:
    parsed = parse(payload, TopicValue("shed", "$.t", "air_temp_c", "°C"))
    assert parsed.counted.refused == {why: 1}


def test_json_paths_take_several_numbers_of_one_message() -> None:
    body = json.dumps({"env": {"t": 59, "h": "61 %"}, "p": [{"v": 1013.2}]})
    found = only(parse(body, TopicValue("shed", "$.env.t", "air_temp_c", "°F"),
                       TopicValue("shed", "$.env.h", "rh_pct", "%"),
                       TopicValue("shed", "$.p[0].v", "pressure_hpa", "hPa")))  # fmt: skip
    assert found == {"air_temp_c": pytest.approx(15.0, abs=1e-9), "rh_pct": 61.0,
                     "pressure_hpa": 1013.2}  # fmt: skip


@pytest.mark.parametrize(
    "told",
    [str(int(NOW) - 60), str((int(NOW) - 60) * 1000), str((int(NOW) - 60) * 1_000_000),
     '"2026-11-18T11:05:40Z"', '"2026-11-18T12:05:40+01:00"', '"2026-11-18T11:05:40"'],
)  # fmt: skip
def test_a_time_in_the_message_goes_before_its_arrival(told: str) -> None:
    value = TopicValue("shed", "$.t", "air_temp_c", "°C")
    body = f'{{"t": 20, "at": {told}}}'
    parsed = parse(body, value, time_path="$.at")
    assert parsed.arrived.time_s.tolist() == [NOW - 60]


@pytest.mark.parametrize("told", ['"soon"', "null", "12", "true", '"2026-13-01T00:00:00Z"'])
def test_a_message_without_its_time_is_refused(told: str) -> None:
    value = TopicValue("shed", "$.t", "air_temp_c", "°C")
    parsed = parse(f'{{"t": 20, "at": {told}}}', value, time_path="$.at")
    assert parsed.counted.refused == {"no time in it": 1}


def test_a_time_ahead_is_refused() -> None:
    value = TopicValue("shed", "$.t", "air_temp_c", "°C")
    parsed = parse(f'{{"t": 20, "at": {NOW + 3600}}}', value, time_path="$.at")
    assert [why for why in parsed.counted.refused if "ahead" in why]


def test_a_retained_message_is_no_reading_unless_it_tells_its_time() -> None:
    old = Message("shed/air", b"20", NOW, retained=True)
    parsed = Parser(sensor()).parse([old])
    assert parsed.retained_only
    assert parsed.counted.refused == {RETAINED: 1}
    value = TopicValue("shed", "$.t", "air_temp_c", "°C")
    timed = Message("shed", f'{{"t": 20, "at": {NOW - 7200}}}'.encode(), NOW, retained=True)
    parsed = Parser(sensor(value, time_path="$.at")).parse([timed])
    assert parsed.arrived.time_s.tolist() == [NOW - 7200]


def test_what_the_broker_sends_again_is_one_reading() -> None:
    first = Message("shed/air", b"20.0", NOW)
    again = Message("shed/air", b"20.0", NOW + 5, again=True)
    other = Message("shed/air", b"20.1", NOW + 9, again=True)
    parsed = Parser(sensor()).parse([first, again, other])
    assert parsed.arrived.time_s.tolist() == [NOW, NOW + 9]
    assert parsed.counted.repeated == 1


def test_a_second_has_one_value_and_the_other_is_counted() -> None:
    both = [Message("shed/air", text, NOW) for text in (b"20.0", b"20.0", b"20.5")]
    parsed = Parser(sensor()).parse(both)
    assert only(parsed) == {"air_temp_c": 20.0}
    assert parsed.counted.repeated == 1
    assert parsed.counted.refused == {"more than one value in a second": 1}


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["shed/air", "shed/rh", "other"]),
            st.one_of(st.binary(max_size=20), st.sampled_from([b"20", b"21.5", b"60", b"NaN"])),
            st.integers(0, 3), st.booleans(), st.booleans(),
        ),
        max_size=30,
    )
)  # fmt: skip
def test_every_message_is_in_a_row_repeated_or_refused(
    given_messages: list[tuple[str, bytes, int, bool, bool]],
) -> None:
    came = [Message(t, p, NOW + s, retained, again) for t, p, s, retained, again in given_messages]
    parsed = Parser(sensor(AIR, TopicValue("shed/rh", "", "rh_pct", "%"))).parse(came)
    counted = parsed.counted
    lost = counted.repeated + sum(counted.refused.values())
    assert counted.messages == len(came) == int(parsed.weights.sum()) + lost
    assert (parsed.weights > 0).all()


@pytest.mark.parametrize(
    ("pattern", "topic", "same"),
    [  # MQTT 3.1.1 (OASIS), 4.7.1.2 and 4.7.1.3, with their own examples
        ("sport/tennis/player1/#", "sport/tennis/player1", True),
        ("sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon", True),
        ("sport/tennis/+", "sport/tennis/player1", True),
        ("sport/tennis/+", "sport/tennis/player1/ranking", False),
        ("sport/+", "sport", False),
        ("sport/+", "sport/", True),
        ("+/+", "/finance", True),
        ("/+", "/finance", True),
        ("+", "/finance", False),
        ("#", "$SYS/monitor/Clients", False),
        ("$SYS/#", "$SYS/monitor/Clients", True),
    ],
)  # fmt: skip
def test_topics_match_as_the_standard_says(pattern: str, topic: str, same: bool) -> None:
    assert matches(pattern, topic) == same


@pytest.mark.parametrize(
    ("value", "found"),
    [
        (TopicValue("", "", "air_temp_c", "°C"), "topic"),
        (TopicValue("a/#/b", "", "air_temp_c", "°C"), "topic"),
        (TopicValue("a/b+", "", "air_temp_c", "°C"), "topic"),
        (TopicValue("a", "", "colour", "°C"), "quantity"),
        (TopicValue("a", "", "air_temp_c", "%"), "unit"),
        (TopicValue("a", "", "rh_pct", "°F"), "unit"),
        (TopicValue("a", "temperature", "air_temp_c", "°C"), "path"),
    ],
)
def test_a_value_that_cannot_be_is_refused_in_one_line(value: TopicValue, found: str) -> None:
    with pytest.raises(InputError, match=f"^{found}: found .*; accepted: ") as told:
        check_value(value)
    assert "\n" not in str(told.value)


@pytest.mark.parametrize("host", ["", " ", "a b", "shed..lan", ".", "x" * 64 + ".lan"])
def test_a_broker_nobody_can_ask_for_is_refused(host: str) -> None:
    """Asked for all the same, such a name would end the listener's thread for good."""
    with pytest.raises(InputError, match=r"^broker: found .*; accepted: "):
        check_broker(Broker(host))


@pytest.mark.parametrize("host", ["localhost", "shed.lan", "192.168.0.7", "::1", "bücher.example"])
def test_a_broker_may_be_a_name_or_an_address(host: str) -> None:
    check_broker(Broker(host))


def test_a_topic_that_is_no_text_is_counted_and_the_next_message_comes() -> None:
    """MQTT 3.1.1, 1.5.3: text is UTF-8; a sender that breaks it must not end the listener."""
    from paho.mqtt.client import Client, MQTTMessage
    from paho.mqtt.enums import CallbackAPIVersion

    listener, client = Listener(sensor(), lambda: NOW, "shed"), Client(CallbackAPIVersion.VERSION2)
    for topic in (b"shed/\xff", b"shed/air"):
        message = MQTTMessage(topic=topic)
        message.payload = b"20.0"
        listener._came(client, None, message)
    assert listener.drain() == ((Message("shed/air", b"20.0", NOW),), 1)
