-- One row per pair of sources that both give sets of a client on the same days: both count, which
-- may be meant, or one training may be counted twice; the sets that are equal in exercise, load and
-- repetitions tell which.
-- grain: client_id, one_source, other_source
with shared_days as (
    select
        client_id,
        performed_on,
    from ledger.sets
    where replaced_by is null
    group by all
    having count(distinct source) > 1
),

lifts as (
    select
        set_rows.client_id,
        set_rows.performed_on,
        set_rows.source,
        set_rows.load_id,
        lower(set_rows.exercise_raw) as lift,
        set_rows.load_kg,
        set_rows.reps,
        count(*) as sets,
    from ledger.sets as set_rows
    semi join shared_days
        on
            set_rows.client_id = shared_days.client_id
            and set_rows.performed_on = shared_days.performed_on
    where set_rows.replaced_by is null
    group by all
),

days as (
    select distinct
        client_id,
        performed_on,
        source,
    from lifts
),

pairs as (
    select
        one.client_id,
        one.source as one_source,
        other.source as other_source,
        count(*) as days,
        min(one.performed_on) as first_on,
        max(one.performed_on) as last_on,
    from days as one
    inner join days as other
        on
            one.client_id = other.client_id
            and one.performed_on = other.performed_on
            and one.source < other.source
    group by all
),

alike as (
    select
        one.client_id,
        one.source as one_source,
        other.source as other_source,
        sum(least(one.sets, other.sets))::bigint as equal_sets,
    from lifts as one
    inner join lifts as other
        on
            one.client_id = other.client_id
            and one.performed_on = other.performed_on
            and one.source < other.source
            and one.lift = other.lift
            and one.load_kg is not distinct from other.load_kg
            and one.reps = other.reps
    group by all
),

files as (
    select
        lifts.client_id,
        lifts.source,
        list_sort(list(distinct loads.path)) as paths,
    from lifts
    inner join ledger.loads as loads on lifts.load_id = loads.load_id
    group by all
)

select
    pairs.client_id,
    pairs.one_source,
    pairs.other_source,
    pairs.days,
    pairs.first_on,
    pairs.last_on,
    coalesce(alike.equal_sets, 0) as equal_sets,
    one_files.paths || other_files.paths as paths,
from pairs
left join alike
    on
        pairs.client_id = alike.client_id
        and pairs.one_source = alike.one_source
        and pairs.other_source = alike.other_source
inner join files as one_files
    on pairs.client_id = one_files.client_id and pairs.one_source = one_files.source
inner join files as other_files
    on pairs.client_id = other_files.client_id and pairs.other_source = other_files.source
order by pairs.client_id, pairs.one_source, pairs.other_source
