-- One row per spelling of an exercise among the sets that count, the most frequent first: which of
-- them the catalogue does not know, or took for a known one by a slip.
-- grain: spelling
select
    exercise_raw as spelling,
    count(*) as sets,
from ledger.sets
where replaced_by is null
group by all
order by sets desc, spelling
