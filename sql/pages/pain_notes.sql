-- One row per day, exercise and note of the client $client_id that speaks of pain, injury or dizziness,
-- quoted for the coach with the file and line where it stands; the latest first.
select
    pain_notes.performed_on,
    pain_notes.exercise,
    sets.notes,
    count(*) as sets,
    arg_min(loads.path, sets.source_line) as path,
    min(sets.source_line) as source_line,
from review.pain_notes as pain_notes
inner join ledger.current_sets as sets on pain_notes.set_id = sets.set_id
left join ledger.loads as loads on sets.load_id = loads.load_id
where pain_notes.client_id = $client_id and sets.client_id = $client_id
group by all
order by pain_notes.performed_on desc, pain_notes.exercise, sets.notes
