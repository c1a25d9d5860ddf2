-- One row per verdict of the data contract on the ledger and on the versions $load_ids (null: all
-- that are loaded), but for the expectation $left_out; the ledger's own first.
select
    checks.expectation,
    checks.is_met,
    checks.unexpected,
    checks.share,
    loads.path,
from ledger.checks as checks
left join ledger.loads as loads on checks.load_id = loads.load_id
where
    checks.expectation <> $left_out
    and (checks.load_id is null or loads.state = 'loaded')
    and (
        $load_ids::integer[] is null
        or checks.load_id is null
        or checks.load_id in (select unnest($load_ids::integer[]))
    )
order by checks.load_id nulls first, checks.expectation
