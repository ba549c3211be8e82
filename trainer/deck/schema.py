"""The JSON Schema of a file format, made from the types that read it."""

from __future__ import annotations

import inspect
import types
import typing
from collections.abc import Mapping
from datetime import date, datetime
from enum import Enum
from fractions import Fraction
from typing import Any

import msgspec

from trainer.values import Frozen, plain

DRAFT = "https://json-schema.org/draft/2020-12/schema"
_PLAIN: Mapping[Any, dict[str, Any]] = {
    str: {"type": "string"},
    int: {"type": "integer"},
    float: {"type": "number"},
    bool: {"type": "boolean"},
    bytes: {"type": "string", "contentEncoding": "base64"},
    type(None): {"type": "null"},
    date: {"type": "string", "format": "date"},
    datetime: {"type": "string", "format": "date-time"},
    Fraction: {
        "type": "string",
        "maxLength": 40,
        "pattern": "^-?[0-9]+(/[0-9]*[1-9][0-9]*)?$",
        "description": 'an exact number, such as "3" or "7/2"; of quarter notes where it is a'
        " place or a length",
    },
}


def schema(kind: type[Frozen]) -> dict[str, Any]:
    """The schema of one kind of value, draft 2020-12; what it is made of stands under $defs."""
    parts: dict[str, Any] = {}
    _part(kind, parts)
    return {"$schema": DRAFT, "$ref": f"#/$defs/{kind.__name__}", "$defs": parts}


def _part(kind: type[Frozen], parts: dict[str, Any]) -> None:
    """Put the schema of a value into `parts`, and those of what it is made of after it."""
    if kind.__name__ in parts:
        return
    hints = typing.get_type_hints(kind)
    fields = msgspec.structs.fields(kind)
    parts[kind.__name__] = {
        "type": "object",
        "description": " ".join((inspect.getdoc(kind) or "").split()),
        "properties": {
            one.encode_name: _of(hints[one.name], parts) | _default(one) for one in fields
        },
        "required": [one.encode_name for one in fields if one.required],
        "additionalProperties": False,
    }


def _default(field: msgspec.structs.FieldInfo) -> dict[str, Any]:
    return {} if field.default is msgspec.NODEFAULT else {"default": plain(field.default)}


def _of(kind: Any, parts: dict[str, Any]) -> dict[str, Any]:
    """The schema of a field's type."""
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if kind in _PLAIN:
        return dict(_PLAIN[kind])
    if origin is typing.Literal:
        return {"enum": list(inner)}
    if origin is tuple:
        return {"type": "array", "items": _of(inner[0], parts)}
    if origin in (typing.Union, types.UnionType):
        return {"anyOf": [_of(one, parts) for one in inner]}
    if issubclass(kind, Enum):
        return {"enum": [one.value for one in kind]}
    _part(kind, parts)
    return {"$ref": f"#/$defs/{kind.__name__}"}
