"""The SQL models: put in order, built, asked, traced, exported."""
