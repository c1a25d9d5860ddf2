-- One row: which schema and which version of the tool made this database.
-- grain: schema_version
-- schema_version: version of the tables' layout; a newer one is built again from what was read
-- tool_version: version of setledger that wrote the database
-- events_applied: lines of .setledger/loads.jsonl that the database contains
-- journal_digest: digest of the last of these lines; null: none
-- rewritings: how often that journal had been written anew (a client forgotten, a salvage)
-- inputs_digest: digest of all that the last build rested on besides the sets, and after a space
-- that of the user's own models
create table if not exists ledger.meta (
    schema_version integer not null,
    tool_version varchar not null,
    events_applied integer not null,
    journal_digest varchar,
    rewritings integer not null,
    inputs_digest varchar,
);
