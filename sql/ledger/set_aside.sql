-- One row per line of an export that was not loaded, with the reason.
-- grain: load_id, source_line
-- load_id: the version that held the line
-- source_line: physical line, from 1, on which the record starts
-- cells: the record's cells as a JSON object, column to text
-- reason: short name of the reason
-- explanation: the reason in words, with the value and how to mend it
create table if not exists ledger.set_aside (
    load_id integer not null,
    source_line integer not null,
    cells varchar not null,
    reason varchar not null,
    explanation varchar not null,
);
