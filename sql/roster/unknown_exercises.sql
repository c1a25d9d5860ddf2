-- One row per client with exercises that the catalogue does not know: how many spellings.
select
    sets.client_id,
    count(distinct sets.exercise_raw) as unknown,
from ledger.sets as sets
inner join ledger.exercise_names as names on sets.exercise_raw = names.exercise_raw
where sets.replaced_by is null and names.how = 'unknown'
group by all
