"""Messages put into JSON and taken out of it again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from terrain.text.message import Message


def messages_of(facts: Any) -> dict[str, dict[str, Any]]:
    """The messages in plain data by their text, with message and numbers, ready for JSON."""
    found: dict[str, Message] = {}
    _collect(facts, found)
    return {text: _to_dict(said) for text, said in found.items()}


def message_json(said: Message) -> dict[str, Any]:
    """One message ready for JSON, see `message_from_json`."""
    return {"text": str(said), **_to_dict(said)}


def message_from_json(told: Mapping[str, Any]) -> Message:
    """The message that `message_json` put in JSON."""
    return _from_dict(told["text"], told)


def with_messages(facts: Any) -> Any:
    """Facts read from JSON, their texts made messages again by `messages`."""
    if not isinstance(facts, dict) or "messages" not in facts:
        return facts
    held = {text: _from_dict(text, told) for text, told in facts["messages"].items()}
    return _replaced({key: item for key, item in facts.items() if key != "messages"}, held) | {
        "messages": facts["messages"]
    }


def _collect(value: Any, found: dict[str, Message]) -> None:
    """The messages in plain data put into `found` by their text."""
    if isinstance(value, dict):
        value = value.values()
    elif not value or isinstance(value[0], float | int):  # a list of numbers, likely long
        return
    for item in value:
        kind = type(item)
        if kind is Message:
            found[str(item)] = item
        elif kind is dict or kind is list or kind is tuple:
            _collect(item, found)


def _replaced(value: Any, held: Mapping[str, Message]) -> Any:
    if isinstance(value, str):
        return held.get(value, value)
    if isinstance(value, dict):
        return {key: _replaced(item, held) for key, item in value.items()}
    if isinstance(value, list) and value and not isinstance(value[0], float | int):
        return [_replaced(item, held) for item in value]
    return value


def _to_dict(said: Message) -> dict[str, Any]:
    told: dict[str, Any] = {"message": said.message}
    if said.many:
        told["many"] = said.many
    if said.numbers:
        told["numbers"] = {name: _number(value) for name, value in said.numbers}
    return told


def _number(value: Any) -> Any:
    if isinstance(value, Message):
        return message_json(value)
    if isinstance(value, list | tuple):
        return [_number(item) for item in value]
    if hasattr(value, "item"):  # a number of NumPy
        value = value.item()
    return round(value, 4) if isinstance(value, float) else value


def _from_dict(text: str, told: Mapping[str, Any]) -> Message:
    numbers = tuple((name, _back(item)) for name, item in told.get("numbers", {}).items())
    return Message(text, told["message"], told.get("many", ""), numbers)


def _back(item: Any) -> Any:
    if isinstance(item, dict):
        return message_from_json(item)
    return tuple(_back(part) for part in item) if isinstance(item, list) else item
