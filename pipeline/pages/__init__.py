"""From tables to page data to HTML."""
