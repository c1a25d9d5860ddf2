-- One row per logged set, as it stands in the export that first brought it.
-- Rows that a newer version replaced stay, with replaced_by set.
-- grain: set_id
-- set_id: "load:line:n", n counted from 1 within the line
-- client_id: the client
-- performed_on: calendar day as written in the export
-- started_at: clock time where the export has one, as written
-- session_id: "client/day": all sets of one client and day
-- exercise_raw: exercise as written
-- day_order: place in the client's day, from 1, by start time, then by file order
-- set_no: set number as exported
-- side: left or right where sides are logged apart
-- load_kg: load as logged, in kilograms [kg]
-- load_unit: unit of the load in the export, kg or lb
-- load_basis: total, per_hand, added, assisted or none where the export says; else null
-- reps: full repetitions
-- partial_reps: partial repetitions after the full ones
-- rir: repetitions in reserve as logged
-- rpe: rating of perceived exertion as logged, 10 = nothing left
-- to_failure: whether failure was logged
-- set_kind: work, warmup or extension (a drop, rest-pause or partials after failure)
-- notes: free text
-- source: name of the source
-- load_id: the version that brought the row
-- source_line: physical line, from 1, on which the record starts
-- replaced_by: the version that replaced the row, else null
create table if not exists ledger.sets (
    set_id varchar not null,
    client_id varchar not null,
    performed_on date not null,
    started_at timestamp,
    session_id varchar not null,
    exercise_raw varchar not null,
    day_order integer not null,
    set_no integer,
    side varchar,
    load_kg double,
    load_unit varchar,
    load_basis varchar,
    reps integer not null,
    partial_reps integer,
    rir double,
    rpe double,
    to_failure boolean,
    set_kind varchar not null,
    notes varchar,
    source varchar not null,
    load_id integer not null,
    source_line integer not null,
    replaced_by integer,
);
