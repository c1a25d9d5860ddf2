-- One row per spelling of an exercise that the catalogue does not know, the most frequent first.
select
    sets.exercise_raw as spelling,
    count(*) as sets,
from ledger.sets as sets
inner join ledger.exercise_names as names on sets.exercise_raw = names.exercise_raw
where sets.replaced_by is null and names.how = 'unknown'
group by all
order by sets desc, spelling
