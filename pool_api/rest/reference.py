"""The reference page: the OpenAPI document as a page that a person can read, with nothing fetched from elsewhere."""

import json
from collections.abc import Iterator
from typing import Any

from pool_api.rest import html
from pool_api.rest.html import Markup

Json = dict[str, Any]


def reference_page(document: Json) -> bytes:
    """Write the page of an OpenAPI document."""
    return html.written(f"{document['info']['title']} {document['info']['version']}", *_blocks(document))


def _blocks(document: Json) -> Iterator[Markup]:
    for text in document["info"]["description"].split("\n\n"):
        yield html.paragraph(text)
    yield html.paragraph("For programs: ", html.link("openapi.json", "/openapi.json"), ".")
    yield html.paragraph("What can go wrong: ", html.link("problems", "/problems"), ".")
    operations = [
        (path, method, operation)
        for path, methods in document["paths"].items()
        for method, operation in methods.items()
    ]
    yield html.listing(html.link(tag["name"], f"#{tag['name']}") for tag in document["tags"])
    for tag in document["tags"]:
        yield html.heading(2, tag["name"], anchor=tag["name"])
        yield html.paragraph(tag["description"])
        for path, method, operation in operations:
            if tag["name"] in operation["tags"]:
                yield from _operation(path, method, operation)
    yield html.heading(2, "Objects", anchor="objects")
    for name, schema in document["components"]["schemas"].items():
        yield html.heading(3, name, anchor=f"object-{name}")
        yield html.block(json.dumps(schema, indent=2, ensure_ascii=False))


def _operation(path: str, method: str, operation: Json) -> Iterator[Markup]:
    yield html.heading(3, f"{method.upper()} {path}", anchor=operation["operationId"])
    yield html.paragraph(operation["summary"], ". " if operation.get("security") != [] else ". Open to anybody. ")
    if "description" in operation:
        yield html.paragraph(operation["description"])
    if "parameters" in operation:
        yield html.table(["Parameter", "In", "Needed", "Form", "Meaning"], map(_parameter, operation["parameters"]))
    for media_type, content in operation.get("requestBody", {}).get("content", {}).items():
        yield html.paragraph("Takes ", html.code(media_type), ": ", _form(content.get("schema", {})))
    yield html.table(["Status", "Answer"], (_answer(*item) for item in operation["responses"].items()))


def _parameter(parameter: Json) -> list[str]:
    return [
        html.code(parameter["name"]),
        parameter["in"],
        "yes" if parameter.get("required") else "no",
        _form(parameter["schema"]),
        parameter.get("description") or parameter["schema"].get("description", ""),
    ]


def _answer(status: str, answer: Json) -> list[str]:
    if "$ref" in answer:
        return [status, html.link("a problem", "#object-Problem")]
    forms = [_form(content.get("schema", {})) for content in answer.get("content", {}).values()]
    return [status, Markup(" or ".join(forms)) if forms else answer["description"]]


def _form(schema: Json) -> Markup:
    """Say a schema in a few words: an object by its name, text by its pattern, a number by its bounds."""
    if "$ref" in schema:
        name = schema["$ref"].rsplit("/", 1)[-1]
        return html.link(name, f"#object-{name}")
    for several in ("anyOf", "oneOf", "allOf"):
        if several in schema:
            return Markup(" or ".join(_form(each) for each in schema[several] if each.get("type") != "null"))
    if schema.get("type") == "array":
        return Markup("list of " + _form(schema.get("items", {})))
    details = [f"{name} {schema[name]}" for name in ("minimum", "maximum", "pattern", "const") if name in schema]
    return html.code(", ".join([str(schema.get("format") or schema.get("type", "anything")), *details]))
