-- One row per session of the client $client_id from $first_on to $last_on with its hard sets.
select
    performed_on as day,
    (count(*) filter (where is_hard))::integer as hard_sets,
from review.graded_sets
where client_id = $client_id and performed_on between $first_on and $last_on
group by all
order by day
