"""Is it true, and what must a person mend: `check` looks at all, `contract` at the data."""
