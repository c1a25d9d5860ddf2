-- One row per shape of a set's id, its numbers written as 9, with its number of sets: whether the
-- id is load:line:n and names its own version and line.
-- grain: shape, is_own
select
    coalesce(regexp_replace(set_id, '[0-9]+', '9', 'g'), '') as shape,
    coalesce(starts_with(set_id, load_id || ':' || source_line || ':'), false) as is_own,
    count(*) as sets,
from contract_sets
group by all
