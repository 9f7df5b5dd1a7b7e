"""The schema laid out for a reader: groups of operations, and the shapes they speak of."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, kw_only=True)
class Part:
    """One named part of a shape: a field, a parameter."""

    name: str
    kind: str
    shape: str  # the name of the shape it is, "" for a plain value
    says: str
    needed: bool
    served_only: bool
    place: str = ""  # of a parameter: path, query or header


@dataclass(frozen=True, kw_only=True)
class Body:
    """What goes in or comes out: a named shape, or parts."""

    media_type: str
    kind: str
    shape: str
    variants: tuple[tuple[str, tuple[Part, ...]], ...] = ()


@dataclass(frozen=True, kw_only=True)
class Operation:
    """One verb at one address."""

    id: str
    verb: str
    path: str
    title: str
    says: str
    open: bool
    parameters: tuple[Part, ...]
    body: Body | None
    answers: tuple[tuple[str, str, Body | None], ...]


def groups(schema: dict[str, Any]) -> dict[str, list[Operation]]:
    """Return the operations of the schema by group, in the order of their addresses."""
    found: dict[str, list[Operation]] = {}
    for path, verbs in schema["paths"].items():
        for verb, operation in verbs.items():
            found.setdefault(operation["tags"][0], []).append(_operation(path, verb, operation))
    return found


def shapes(schema: dict[str, Any]) -> dict[str, tuple[str, tuple[Part, ...]]]:
    """Return the shapes by name: what they are, and their parts."""
    return {
        name: (shape.get("description", ""), tuple(_parts(shape)))
        for name, shape in schema["components"]["schemas"].items()
        if not name.startswith("Patched")
    }


def _operation(path: str, verb: str, operation: dict[str, Any]) -> Operation:
    content = operation.get("requestBody", {}).get("content", {})
    return Operation(
        id=operation["operationId"],
        verb=verb.upper(),
        path=path,
        title=operation.get("summary", ""),
        says=operation.get("description", ""),
        open=not any(operation.get("security", [])),
        parameters=tuple(
            Part(
                name=parameter["name"],
                kind=_kind(parameter["schema"]),
                shape="",
                says=parameter.get("description", ""),
                needed=parameter.get("required", False),
                served_only=False,
                place=parameter["in"],
            )
            for parameter in operation.get("parameters", [])
        ),
        body=_body(content),
        answers=tuple(
            (code, answer.get("description", ""), _body(answer.get("content", {})))
            for code, answer in operation["responses"].items()
        ),
    )


def _body(content: dict[str, Any]) -> Body | None:
    for media_type, what in content.items():
        schema = what.get("schema", {})
        variants = [one for one in schema.get("oneOf", [schema]) if "properties" in one]
        return Body(
            media_type=media_type,
            kind=_kind(schema),
            shape=_shape(schema),
            variants=tuple((one.get("title", ""), tuple(_parts(one))) for one in variants),
        )
    return None


def _parts(schema: dict[str, Any]) -> Iterator[Part]:
    needed = schema.get("required", [])
    for name, part in schema.get("properties", {}).items():
        yield Part(
            name=name,
            kind=_kind(part),
            shape=_shape(part),
            says=part.get("description", ""),
            needed=name in needed,
            served_only=part.get("readOnly", False),
        )


def _shape(schema: dict[str, Any]) -> str:
    """Return the name of the shape that a schema is, or is a list of, or "" if it has none."""
    if "$ref" in schema:
        return str(schema["$ref"].rpartition("/")[2].removeprefix("Patched"))
    inner = [schema.get("items", {}), *schema.get("oneOf", []), *schema.get("allOf", [])]
    return next((name for one in inner if one and (name := _shape(one))), "")


def _kind(schema: dict[str, Any]) -> str:
    """Return in a few words what a value is."""
    if "enum" in schema:
        return "one of " + ", ".join("null" if one is None else str(one) for one in schema["enum"])
    if "items" in schema:
        inner = _kind(schema["items"])
        return f"list of {inner}" if inner else "list of"
    choices = schema.get("anyOf") or schema.get("oneOf")
    if choices:
        return " or ".join(dict.fromkeys(filter(None, map(_kind, choices))))
    if "$ref" in schema or "allOf" in schema:
        return ""
    kind = schema.get("type", "anything")
    words = kind if isinstance(kind, list) else [kind]
    said = " or ".join(str(word) for word in words)
    return f"{said} ({schema['format']})" if "format" in schema else said
