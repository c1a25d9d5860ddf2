-- One row per export version that counts: which file, until when, how much of it was not read.
-- grain: load_id
-- load_id: number of the version
-- source: name of the source
-- path: file
-- last_on: latest day in it; null: none
-- lines_read: records read [lines]
-- unread_lines: records set aside that may have been sets: not those given twice, without
-- repetitions (holds, carries, distances), or of another time [lines]
with unread as (
    select
        load_id,
        count(*) as unread_lines,
    from ledger.set_aside
    where
        reason not in (
            'duplicate', 'no_reps', 'no_repetitions', 'outside_period', 'date_in_future'
        )
    group by all
)

select
    loads.load_id,
    loads.source,
    loads.path,
    loads.last_on,
    loads.lines_read,
    coalesce(unread.unread_lines, 0) as unread_lines,
from ledger.loads as loads
left join unread on loads.load_id = unread.load_id
where loads.state = 'loaded'
