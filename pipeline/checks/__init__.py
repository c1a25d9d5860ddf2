"""Whether what was loaded is true, and what a person must mend."""
