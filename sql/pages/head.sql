-- One row: the logged days of the client $client_id, and how the effort of the work sets is known,
-- for the line on what a page rests on. Days are null for a client without a set. Covered is until
-- the last day of any loaded export that holds sets of the client, not beyond the as-of day.
with covered as (
    select max(loads.last_on) as last_on,
    from ledger.loads as loads
    semi join (
        select load_id,
        from ledger.sets
        where client_id = $client_id and replaced_by is null
    ) as own on loads.load_id = own.load_id
    where loads.state = 'loaded'
)

select
    min(performed_on) as first_on,
    max(performed_on) as last_on,
    count(distinct performed_on) as sessions,
    count(*) filter (effort_basis is not null) as work_sets,
    count(*) filter (effort_basis = 'recorded') as recorded,
    count(*) filter (effort_basis = 'estimated') as estimated,
    count(*) filter (effort_basis = 'assumed') as assumed,
    greatest(
        max(performed_on),
        (
            select least(covered.last_on, run.as_of),
            from covered
            cross join review.run as run
        )
    ) as covered_on,
from review.graded_sets
where client_id = $client_id
