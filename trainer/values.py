"""The base of all values that pass between rooms, and their one JSON form.

A fraction is written as text ("7/2"); a date or an instant as ISO 8601. The JSON is
canonical: fields in the order of their definition, defaults left out, so that equal values
give equal text.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import Any, TypeVar

import msgspec

from trainer.errors import TrainerError

T = TypeVar("T")


class Frozen(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """A value: compared by content, never changed."""


@lru_cache(maxsize=65536)
def _fraction(text: str) -> Fraction:
    numerator, _, denominator = text.partition("/")
    return Fraction(int(numerator), int(denominator or 1))


def _enc_hook(value: Any) -> Any:
    if isinstance(value, Fraction):
        return str(value)
    raise NotImplementedError(f"no JSON form for {type(value).__name__}")


def _dec_hook(kind: type, value: Any) -> Any:
    if kind is Fraction and isinstance(value, str) and len(value) <= 40:
        try:
            return _fraction(value)
        except (ValueError, ZeroDivisionError) as error:
            raise ValueError(f"not a fraction: {value[:20]!r}") from error
    raise ValueError(f"expected a {kind.__name__} as text")


@lru_cache(maxsize=256)
def _fields(kind: type[Frozen]) -> tuple[tuple[str, Any], ...]:
    """The fields of a kind of value, and their defaults."""
    return tuple((field.encode_name, field.default) for field in msgspec.structs.fields(kind))


def _bare(value: Any) -> Any:
    """The value without its defaults. msgspec itself leaves out only the very object that the
    default is, so that equal values from a file and from a database would differ in text."""
    if isinstance(value, Frozen):
        pairs = ((name, getattr(value, name), default) for name, default in _fields(type(value)))
        return {name: _bare(held) for name, held, default in pairs if held != default}
    if isinstance(value, tuple | list):
        return [_bare(held) for held in value]
    return value


def encode(value: Any, *, indent: int = 0) -> str:
    """The canonical JSON text of a value; `indent` spaces a level where it is to be read."""
    data = msgspec.json.encode(_bare(value), enc_hook=_enc_hook)
    return (msgspec.json.format(data, indent=indent) if indent else data).decode()


def decode(text: str | bytes, kind: type[T], what: str) -> T:
    """The value of that kind that a JSON text stands for.

    `what` names the text in the error ("the deck file x.json"). Raises TrainerError with the
    path of the field that does not fit.
    """
    try:
        return msgspec.json.decode(text, type=kind, dec_hook=_dec_hook)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise TrainerError(f"{what} cannot be understood: {error}.") from error


def plain(value: Any) -> Any:
    """The same value as dictionaries, lists, text and numbers."""
    return msgspec.to_builtins(value, enc_hook=_enc_hook)
