"""What the user writes, setledger.toml, mappings and rules, as frozen classes."""
