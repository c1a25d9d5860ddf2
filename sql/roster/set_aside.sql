-- One row per line set aside of the exports that count, of all clients, with its file: a line that
-- names no client stands on the roster only.
select
    aside.load_id,
    loads.path,
    aside.source_line,
    aside.reason,
    aside.explanation,
from ledger.set_aside as aside
inner join ledger.loads as loads on aside.load_id = loads.load_id
where loads.state = 'loaded'
order by aside.load_id, aside.source_line
