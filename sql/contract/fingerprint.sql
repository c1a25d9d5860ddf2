-- One row: what the rows that the contract is asked of add up to, whatever their order; whether a set
-- lies beyond tomorrow, the newest is fresh, and nobody weighs what a person cannot. Weigh-ins of the
-- workspace's own file come after the contract is asked in a run, so they do not add up here.
-- grain: one row
with hashes as (
    select
        'sets' as part,
        hash(each) as hashed,
    from ledger.sets as each
    union all
    select
        'loads' as part,
        hash(each) as hashed,
    from ledger.loads as each
    union all
    select
        'set_aside' as part,
        hash(each) as hashed,
    from ledger.set_aside as each
    union all
    select
        'names' as part,
        hash(each.exercise_raw, each.exercise is null) as hashed,
    from ledger.exercise_names as each
),

parts as (
    select
        part,
        count(*) as amount,
        bit_xor(hashed) as mixed,
        sum(hashed) as summed,
    from hashes
    group by all
),

summed_up as (
    select string_agg(format('{} {} {} {}', part, amount, mixed, summed), ', ' order by part)
            as parts,
    from parts
),

days as (
    select
        coalesce(max(performed_on) > $today::date + 1, false) as is_beyond,
        coalesce(
            $as_of::date - max(performed_on) filter (performed_on <= $as_of::date) <= $fresh_days,
            true
        ) as is_fresh,
    from ledger.sets
    where replaced_by is null
),

weighed as (
    select coalesce(bool_and(bodyweight_kg between $low_kg and $high_kg), true) as is_possible,
    from ledger.bodyweights
    where replaced_by is null
),

columns_found as (
    select string_agg(column_name || ' ' || data_type, ', ' order by column_index) as names,
    from duckdb_columns()
    where schema_name = 'ledger' and table_name = 'sets' and database_name <> 'temp'
)

select
    columns_found.names,
    days.is_beyond,
    days.is_fresh,
    weighed.is_possible,
    summed_up.parts,
from days
cross join weighed
cross join columns_found
cross join summed_up
