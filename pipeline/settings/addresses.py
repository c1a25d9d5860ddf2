"""Mail addresses and mail servers: what can be one, and what is this machine."""

from __future__ import annotations

import ipaddress
import re
from email.utils import getaddresses

_ADDRESS = re.compile(r"[^@\s,;<>\"]+@[^@\s,;<>\".]+(\.[^@\s,;<>\".]+)+\Z")


def is_address(text: str) -> bool:
    """Whether a text can be a mail address."""
    return _ADDRESS.match(text) is not None and len(text) <= 254


def is_one_mailbox(text: str) -> bool:
    """Whether a text is one address, alone or as "Name <address>"."""
    found = [address for _, address in getaddresses([text])]
    return len(found) == 1 and is_address(found[0])


def is_loopback(host: str) -> bool:
    """Whether a host is this machine."""
    if host.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
