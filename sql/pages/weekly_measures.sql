-- One row per seven days of the $weeks weeks to $last_on in which the client $client_id had logged
-- before: sessions, and which share of the hard sets went on after failure (null: no hard set).
with ends as (
    select
        $last_on::date - 7 * unnest(range(0, $weeks))::integer as day,
),

spans as (
    select
        min(performed_on) as first_on,
    from review.graded_sets
    where client_id = $client_id
)

select
    ends.day,
    count(distinct graded.performed_on)::integer as sessions,
    count(*) filter (where graded.is_hard and graded.is_extended)
    / nullif(count(*) filter (where graded.is_hard), 0) as extended_share,
from ends
inner join spans on ends.day - 6 >= spans.first_on
left join review.graded_sets as graded
    on
        graded.client_id = $client_id
        and graded.performed_on > ends.day - 7
        and graded.performed_on <= ends.day
group by all
order by ends.day
