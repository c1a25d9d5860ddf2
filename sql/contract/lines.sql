-- One row per combination of how the sets of an export's line are counted, with its number of sets:
-- whether no set of a line is missing, and all belong to one client and day.
-- grain: last_n, sets_of_line, sessions
with numbered_lines as (
    select
        max(coalesce(try_cast(split_part(set_id, ':', 3) as integer), 0)) as last_n,
        count(*) as sets_of_line,
        coalesce(min(session_id) <> max(session_id), false) as is_split,
    from contract_sets
    group by load_id, source_line
)

select
    last_n,
    sets_of_line,
    1 + is_split::integer as sessions,
    sum(sets_of_line)::bigint as sets,
from numbered_lines
group by all
