"""Callbacks of the dashboard called as a browser calls them, without one."""

from __future__ import annotations

import json
import urllib.request

OWN = {"Host": "127.0.0.1", "Content-Type": "application/json"}


class Dashboard:
    """One browser's view of a server: what it can ask, and by what names.

    ``post`` sends bytes to a path and gives the text of the answer.
    """

    def __init__(self, get, post):
        self._post = post
        self._known = json.loads(get("/_dash-dependencies"))

    def type(self, where, value, session, view):
        """What is told of a value that is typed."""
        body = {"where": where, "value": value, "next": value, "session": session, "view": view}
        return json.loads(self._post("/typed", json.dumps({**body, "last": None}).encode()))

    def ask(self, output, changed, *rows, **values):
        """What one callback sets: by id and property, as ``report-preview.srcDoc``.

        Args:
            output: Part of the name of its outputs.
            changed: The property that changed, such as ``settled.data``, an input of it.
            rows: For an input of all of a kind: id and value of each.
            values: For others, by id with ``_`` for ``-``.
        """
        (found,) = [
            d
            for d in self._known
            if output in d["output"]
            and changed in [f"{i['id']}.{i['property']}" for i in d["inputs"]]
        ]
        given = {name.replace("_", "-"): value for name, value in values.items()}

        def filled(wire):
            made = [{"id": i, "property": wire["property"], "value": v} for i, v in rows]
            if '["ALL"]' in wire["id"]:
                return made
            if wire["id"].startswith("{"):
                # One component, or the one of its kind that is asked for.
                return next(iter(made), {**wire, "id": json.loads(wire["id"]), "value": None})
            return {**wire, "value": given.get(wire["id"])}

        body = {
            "output": found["output"],
            "outputs": outputs_of(found["output"]),
            "inputs": [filled(wire) for wire in found["inputs"]],
            "state": [filled(wire) for wire in found["state"]],
            "changedPropIds": _triggered(changed, rows),
        }
        said = json.loads(self._post("/_dash-update-component", json.dumps(body).encode()) or "{}")
        return {
            f"{name}.{prop}": value
            for sets in (said.get("response", {}), said.get("sideUpdate") or {})
            for name, props in sets.items()
            for prop, value in props.items()
        }


def _triggered(changed, rows):
    if not rows:
        return [changed]
    prop = changed.rpartition(".")[2]
    names = [json.dumps(id_, sort_keys=True, separators=(",", ":")) for id_, _ in rows]
    return [f"{name}.{prop}" for name in names]


def outputs_of(name):
    wires = [part.rpartition(".") for part in name.strip(".").split("...")]
    made = [
        {
            "id": json.loads(id_) if id_.startswith("{") else id_,
            "property": prop.partition("@")[0],
        }
        for id_, _, prop in wires
    ]
    return made if name.startswith("..") else made[0]


def inside(app):
    """A dashboard asked within this process."""
    client = app.server.test_client()

    def checked(said):
        assert said.status_code in (200, 204), said.status_code
        return said.text

    return Dashboard(
        lambda path: checked(client.get(path, headers=OWN)),
        lambda path, body: checked(client.post(path, data=body, headers=OWN)),
    )


def over_the_wire(address):
    """A dashboard asked over a connection."""

    def asked(path, body=None):
        request = urllib.request.Request(
            address.rstrip("/") + path, data=body, headers={"Content-Type": "application/json"}
        )
        with urllib.request.urlopen(request, timeout=120) as said:
            return said.read().decode()

    return Dashboard(asked, asked)
