-- One row per exercise that a client did on a day: its name and spellings, lower case, and its
-- number of sets, to find the sets that a correction means.
-- grain: exercise
select
    lower(exercise) as exercise,
    list(distinct lower(exercise_raw)) as spellings,
    count(*) as sets,
from ledger.current_sets
where client_id = $client_id and performed_on = $performed_on
group by current_sets.exercise
order by current_sets.exercise
