#!/usr/bin/env python3
"""Marked notes: one note a line, each value marked where it is said. Reads, checks, converts.

    marks.py check FILE...            counts, and names every line that does not hold
    marks.py json FILE... > text.json the form that score_speech.py takes

A mark is {KIND NAME[/POSITION]=VALUE|the words that state it}:
    {tach_time=2345.6|two three four five decimal six}        stated
    {cylinder_compression/3=74|seventy-four over eighty}      with its place
    {drain_closed=true|quick drain is shut}                   a state: the shortest words that state it
    {~oil_added=7|seven quarts}                               said and then corrected away
    {!limit filter_torque=18|eighteen foot pounds}            no value: limit plan question negation history
                                                              other hearsay quote conditional joke thing
    {?sample_taken=true|bottle's got about three ounces in it} arguable: implied rather than said
    {oil_added=6&6.5|six ... }                                two statements that differ, not corrected
    {defect=open|cracked stud on number two exhaust}          a finding: open, deferred or cleared
    {remark=*|gasket looked a bit flattened}                  worth keeping, no field, no defect
VALUE is in the field's unit (shared/design/fields.md). Words outside marks are just said.
"""

import json
import re
import sys

WHY = "limit plan question negation history other hearsay quote conditional joke thing".split()
KIND = {
    "tach_time": "h",
    "hobbs_time": "h",
    "service_date": "date",
    "oil_level_before": "qt",
    "oil_drained": "qt",
    "drain_closed": "bool",
    "sample_taken": "bool",
    "sample_volume": "fl oz",
    "filter_part_number": "text",
    "filter_torque": "ft-lb",
    "filter_safetied": "bool",
    "lockwire_diameter": "in",
    "lockwire_twist": "per inch",
    "filter_opened": "bool",
    "metal_found": "choice",
    "metal_magnetic": "bool",
    "screen_cleaned": "bool",
    "oil_added": "qt",
    "oil_grade": "text",
    "additive_added": "fl oz",
    "oil_level": "qt",
    "runup_rpm": "rpm",
    "oil_pressure": "psi",
    "oil_temperature": "°F",
    "leak_check": "choice",
    "cowling_installed": "bool",
    "cylinder_compression": "psi",
    "oil_cap_tight": "bool",
    "old_gasket_removed": "bool",
    "gasket_oiled": "bool",
    "tools_counted": "bool",
    "defect": "choice",
    "remark": "text",
    "hour_meter_time": "h",
    "oil_kind": "choice",
    "plug_gap": "in",
    "plug_torque": "ft-lb",
    "tire_pressure": "psi",
    "battery_voltage": "V",
}
CHOICE = {
    "defect": {"open", "deferred", "cleared"},
    "metal_found": {"none", "fine", "flakes", "pieces", "some"},
    "oil_kind": {"ashless dispersant", "mineral", "multigrade", "synthetic blend"},
    "leak_check": {"pass", "fail"},
}
PLACE = {
    "cylinder_compression": set("123456"),
    "tire_pressure": {"nose", "left", "right", "tail"},
    "plug_gap": set("123456") | {"top", "bottom"},
    "plug_torque": set("123456") | {"top", "bottom"},
}
TOL = {
    "h": 0.05,
    "qt": 0.005,
    "fl oz": 0.005,
    "ft-lb": 0.005,
    "in": 0.00005,
    "V": 0.005,
    "°F": 0.05,
    "psi": 0.05,
}
MARK = re.compile(r"\{([~?]|![a-z]+ )?([a-z_]+)(?:/([a-z0-9]+))?=([^|{}]*)\|([^{}|]+)\}")


def value(name, text):
    kind = KIND[name]
    if kind == "bool":
        if text not in ("true", "false"):
            raise ValueError(f"{name} is true or false, not {text}")
        return text == "true"
    if kind == "choice":
        if text not in CHOICE[name]:
            raise ValueError(f"{name} is one of {sorted(CHOICE[name])}, not {text}")
        return text
    if kind == "date":
        if not re.fullmatch(r"\d{4}-\d\d-\d\d", text):
            raise ValueError(f"a date is YYYY-MM-DD, not {text}")
        return text
    return text if kind == "text" else float(text)


def note(line):
    words, fields, traps, spans, at = "", [], [], [], 0
    for m in MARK.finditer(line):
        words += line[at : m.start()]
        at = m.end()
        how, name, place, text, said = m.groups()
        name = {"hobbs_time": "hour_meter_time"}.get(name, name)
        if name not in KIND:
            raise ValueError(f"no field {name}")
        if place and place not in PLACE.get(name, ()):
            raise ValueError(f"{name} has no place {place}")
        pos = int(place) if place and place.isdecimal() else place
        values = [value(name, t) for t in text.split("&")] if text != "*" else [None]
        spans.append(
            [len(words), len(words) + len(said), (how or "").strip(), name, pos, values[0]]
        )
        words += said
        if (how or "").startswith("!"):
            if how.strip()[1:] not in WHY:
                raise ValueError(f"{how.strip()[1:]} is no reason; one of {WHY}")
            traps.append(
                {"name": name, "value": values[0], "position": pos, "why": how.strip()[1:]}
            )
        elif how == "~":
            traps.append(
                {"name": name, "value": values[0], "position": pos, "why": "corrected away"}
            )
        else:
            if name not in ("defect", "remark") and any(
                (f["name"], f["position"]) == (name, pos) for f in fields
            ):
                continue
            f = {
                "name": name,
                "value": values[0],
                "unit": None if KIND[name] in ("bool", "choice", "text", "date") else KIND[name],
                "position": pos,
                "superseded": [],
                "tol": TOL.get(KIND[name], 0),
                "said": said,
            }
            if len(values) > 1:
                f |= {"also": values[1:], "must_doubt": True}
            if how == "?":
                f["optional"] = True
            fields.append(f)
    words += line[at:]
    if re.search(r"[{}|]", words):
        raise ValueError(
            "a mark that does not read: " + re.search(r".{0,25}[{}|].{0,25}", words).group()
        )
    for t in traps:
        if t["why"] == "corrected away":
            for f in fields:
                if (f["name"], f["position"]) == (t["name"], t["position"]):
                    f["superseded"].append(t["value"])
    return {
        "words": " ".join(words.split()),
        "fields": fields,
        "traps": [t for t in traps if t["why"] != "corrected away"],
        "spans": spans,
        "marked": words,
    }


def read(paths):
    for p in paths:
        for n, line in enumerate(open(p, encoding="utf-8"), 1):
            line = line.strip()
            if line and not line.startswith("# "):
                yield p, n, line


if __name__ == "__main__":
    what, paths = sys.argv[1], sys.argv[2:]
    made, bad, seen = [], 0, {}
    for p, n, line in read(paths):
        try:
            one = note(line)
        except ValueError as e:
            print(f"{p}:{n}: {e}", file=sys.stderr)
            bad += 1
            continue
        key = re.sub(r"[^a-z ]", "", one["words"].lower())
        if key in seen:
            print(f"{p}:{n}: the same words as {seen[key]}", file=sys.stderr)
            bad += 1
            continue
        seen[key] = f"{p}:{n}"
        made.append({"id": f"{p.rsplit('/', 1)[-1].rsplit('.', 1)[0]}-{n:04d}", **one})
    if what == "json":
        json.dump(made, sys.stdout, indent=0)
    else:
        from collections import Counter

        print(len(made), "notes,", bad, "bad lines")
        print("fields", dict(Counter(f["name"] for m in made for f in m["fields"]).most_common()))
        print(
            "traps",
            dict(Counter(t["why"] for m in made for t in m["traps"]).most_common()),
            "corrected",
            sum(len(f["superseded"]) for m in made for f in m["fields"]),
        )
        print("without fields", sum(not m["fields"] for m in made))
    sys.exit(bool(bad))
