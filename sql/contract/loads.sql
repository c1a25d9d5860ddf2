-- One row per version that counts: whether its lines add up (read, loaded, set aside), and its sets
-- stand in the ledger. What only the run that read it can tell is null without a receipt.
-- grain: load_id
with versions as (
    select
        loads.load_id,
        loads.path,
        loads.lines_read,
        loads.lines_loaded,
        loads.lines_set_aside,
        loads.sets_loaded,
    from ledger.loads as loads
    semi join asked_versions on loads.load_id = asked_versions.load_id
    where not $is_partial or loads.load_id in (select receipts.load_id from receipts)
),

aside as (
    select
        load_id,
        count(*) as aside_rows,
        count(distinct source_line) as aside_lines,
        count(*) filter (where reason not in ('outside_period', 'no_repetitions'))
            as damaged_lines,
    from ledger.set_aside
    group by all
),

held as (
    select
        set_rows.load_id,
        count(*) as rows_held,
    from ledger.sets as set_rows
    semi join versions on set_rows.load_id = versions.load_id
    group by all
),

twice as (
    select
        set_rows.load_id,
        count(distinct set_rows.source_line) as lines_twice,
    from ledger.sets as set_rows
    semi join ledger.set_aside as set_aside
        on
            set_rows.load_id = set_aside.load_id
            and set_rows.source_line = set_aside.source_line
    group by all
)

select
    versions.load_id,
    versions.path,
    versions.lines_read,
    versions.lines_loaded,
    versions.lines_set_aside,
    versions.lines_loaded + versions.lines_set_aside as lines_told,
    receipts.set_lines + receipts.weighed_lines as lines_found,
    greatest(coalesce(aside.aside_lines, 0), coalesce(aside.aside_rows, 0)) as aside_lines,
    coalesce(aside.damaged_lines, 0) / greatest(versions.lines_read, 1) as damaged_share,
    coalesce(twice.lines_twice, 0) as lines_twice,
    versions.sets_loaded,
    receipts.standing_sets,
    coalesce(held.rows_held, 0) as rows_held,
    1 as sets,
from versions
left join aside on versions.load_id = aside.load_id
left join held on versions.load_id = held.load_id
left join twice on versions.load_id = twice.load_id
left join receipts on versions.load_id = receipts.load_id
order by versions.load_id
