-- One row per set that counts: not replaced by a newer version, corrections applied, and with the
-- exercise that its spelling is taken for.
-- grain: set_id
-- set_id: "load:line:n"
-- client_id: the client
-- performed_on: calendar day
-- started_at: clock time where known
-- session_id: "client/day"
-- exercise: the exercise, by ledger.exercise_names
-- exercise_raw: exercise as written
-- day_order: place in the client's day, from 1
-- set_no: set number as exported
-- side: left or right where sides are logged apart
-- load_kg: load [kg]
-- load_unit: unit of the load in the export
-- load_basis: as exported, else null
-- reps: full repetitions
-- partial_reps: partial repetitions after the full ones
-- rir: repetitions in reserve as logged
-- rpe: rating of perceived exertion as logged
-- to_failure: whether failure was logged
-- set_kind: work, warmup or extension
-- notes: free text
-- source: name of the source
-- load_id: the version that brought the row
-- source_line: physical line on which the record starts
-- is_corrected: whether a line of corrections.csv changed it
create or replace view ledger.current_sets as
-- inlined: what asks for one client reads the rows of that client alone
with counting_sets as not materialized (
    select *,
    from ledger.sets
    where replaced_by is null
),

named_sets as not materialized (
    select
        counting_sets.*,
        coalesce(names.exercise, lower(counting_sets.exercise_raw)) as exercise,
    from counting_sets
    left join ledger.exercise_names as names on counting_sets.exercise_raw = names.exercise_raw
),

-- only days that a correction names are numbered: the others need no window
numbered_sets as (
    select
        set_id,
        client_id,
        performed_on,
        exercise,
        exercise_raw,
        row_number() over (
            partition by client_id, performed_on, exercise
            order by day_order, load_id, source_line, set_id
        ) as n,
    from named_sets
    where
        (client_id, performed_on) in (
            select (client_id, performed_on),
            from ledger.corrections
        )
),

corrections as (
    select
        numbered_sets.set_id,
        max(corrected.value) filter (where corrected.field = 'load') as load_text,
        max(corrected.value) filter (where corrected.field = 'reps') as reps_text,
        max(corrected.value) filter (where corrected.field = 'rir') as rir_text,
        max(corrected.value) filter (where corrected.field = 'rpe') as rpe_text,
        max(corrected.value) filter (where corrected.field = 'set_kind') as set_kind_text,
        max(corrected.value) filter (where corrected.field = 'to_failure') as to_failure_text,
        max(corrected.value) filter (where corrected.field = 'partial_reps') as partial_reps_text,
    from numbered_sets
    inner join ledger.corrections as corrected
        on
            numbered_sets.client_id = corrected.client_id
            and numbered_sets.performed_on = corrected.performed_on
            and numbered_sets.n = corrected.n
            and lower(corrected.exercise) in (
                lower(numbered_sets.exercise), lower(numbered_sets.exercise_raw)
            )
    group by all
)

select
    named_sets.set_id,
    named_sets.client_id,
    named_sets.performed_on,
    named_sets.started_at,
    named_sets.session_id,
    named_sets.exercise,
    named_sets.exercise_raw,
    named_sets.day_order,
    named_sets.set_no,
    named_sets.side,
    coalesce(try_cast(corrections.load_text as double), named_sets.load_kg) as load_kg,
    named_sets.load_unit,
    named_sets.load_basis,
    coalesce(try_cast(corrections.reps_text as integer), named_sets.reps) as reps,
    coalesce(
        try_cast(corrections.partial_reps_text as integer), named_sets.partial_reps
    ) as partial_reps,
    coalesce(try_cast(corrections.rir_text as double), named_sets.rir) as rir,
    coalesce(try_cast(corrections.rpe_text as double), named_sets.rpe) as rpe,
    coalesce(
        try_cast(corrections.to_failure_text as boolean), named_sets.to_failure
    ) as to_failure,
    coalesce(corrections.set_kind_text, named_sets.set_kind) as set_kind,
    named_sets.notes,
    named_sets.source,
    named_sets.load_id,
    named_sets.source_line,
    corrections.set_id is not null as is_corrected,
from named_sets
left join corrections on named_sets.set_id = corrections.set_id;
