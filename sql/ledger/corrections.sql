-- One row per line of corrections.csv: a single logged value, overruled by the lifter or coach.
-- grain: line
-- line: line in corrections.csv
-- client_id: the client
-- performed_on: the day
-- exercise: exercise as written in the export or as known to the catalogue
-- n: which set of that exercise on that day, from 1, in the order of the day
-- field: the field that is overruled: load, reps, rir, rpe, set_kind, to_failure or partial_reps
-- value: the value that counts, as the ledger stores it: a load in kilograms, true or false
-- reason: why
create table if not exists ledger.corrections (
    line integer not null,
    client_id varchar not null,
    performed_on date not null,
    exercise varchar not null,
    n integer not null,
    field varchar not null,
    value varchar not null,
    reason varchar,
);
