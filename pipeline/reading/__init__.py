"""From the bytes of an export to lines and sets, or a line set aside with its reason."""
