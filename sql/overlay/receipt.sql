-- One row per version that this run read: what it gave, counted apart from its own figures, for the
-- data contract to compare. Once a version is laid over, its source's sets between its first and
-- last day of each client are its sets, no more and no fewer.
-- grain: load_id
-- load_id: the version
-- set_lines: lines that gave a set [lines]
-- weighed_lines: lines that gave a weigh-in and no set [lines]
-- standing_sets: sets of its source that count in its range; null if it is held [sets]
insert into receipts
with ranges as (
    select
        client_id,
        min(performed_on) as first_on,
        max(performed_on) as last_on,
    from incoming_sets
    group by all
),

standing as (
    select count(*) as standing_sets,
    from ledger.sets as sets
    inner join ranges
        on
            sets.client_id = ranges.client_id
            and sets.performed_on between ranges.first_on and ranges.last_on
    where sets.source = $source and sets.replaced_by is null
),

lines as (
    select count(distinct source_line) as set_lines,
    from incoming_sets
)

select
    $load_id as load_id,
    lines.set_lines,
    $weighed_lines as weighed_lines,
    case when $is_loaded then standing.standing_sets end as standing_sets,
from standing
cross join lines;
