"""What in a recording could name its owner or a device: looked up only to be searched for, never kept with the data."""

from __future__ import annotations

import html
import re
from dataclasses import dataclass

from steadyband.recording.fit.frames import read_stream

NUMBERS = ("serial_number", "ant_device_number")
"""Fields of FIT messages that number a device (SOURCES S9, messages file_id and device_info)."""
TEXTS = ("product_name", "descriptor")
GPX_TEXT = re.compile(rb"<(?:\w+:)?(name|desc|cmt|author|keywords|copyright|email)\b[^>]{0,200}>([^<]{1,200})<")
GPX_DEVICE = re.compile(rb"<gpx\b[^>]{0,2000}?\bcreator\s*=\s*[\"']([^\"']{1,200})[\"']")
GPX_HEAD = 1 << 20
"""Bytes of a GPX file that are looked at: names stand before the points."""


@dataclass(frozen=True, slots=True)
class Identities:
    """Numbers of devices as text, names of devices, and texts that the owner or a service may have written."""

    serials: frozenset[str] = frozenset()
    devices: frozenset[str] = frozenset()
    texts: frozenset[str] = frozenset()


def identities(data: bytes, device: str | None = None) -> Identities:
    """The identities in the bytes of a recording; `device` is the name its reader found. Never raises on any bytes."""
    named = frozenset([device] if device else [])
    if data[8:12] == b".FIT":
        return _of_fit(data, named)
    head = data[:GPX_HEAD]
    texts = frozenset(_plain(match[2]) for match in GPX_TEXT.finditer(head)) - {""}
    return Identities(devices=named | {_plain(match[1]) for match in GPX_DEVICE.finditer(head)}, texts=texts)


def _of_fit(data: bytes, named: frozenset[str]) -> Identities:
    serials: set[str] = set()
    devices: set[str] = set(named)
    for part in read_stream(data).parts:
        for message in (part.file_id, *part.messages["device_info"]):
            serials |= {str(int(message[key])) for key in NUMBERS if isinstance(message.get(key), int | float)}
            devices |= {str(message[key]).strip() for key in TEXTS if isinstance(message.get(key), str)}
    return Identities(frozenset(serials - {"0"}), frozenset(devices - {""}))


def _plain(text: bytes) -> str:
    return html.unescape(text.decode("utf-8", "replace")).strip()
