"""From page data to a message to a mail server."""
