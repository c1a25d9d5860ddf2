-- One row per look and set of the rules.pain_days before it whose note speaks of pain,
-- injury or dizziness. Everyday uses ("no pain, no gain") and what says that there is none ("no
-- shoulder pain", "pain: 0") are taken out of the note first. Where doubt stays it is asked about: a
-- needless question costs less than one that was not asked.
-- grain: set_id, look_on
-- set_id: the set
-- look_on: the look
-- is_last: whether it is the client's last look
-- client_id: the client
-- day: the day
-- exercise: the exercise
with recent_notes as (
    select
        noted.set_id,
        looks.look_on,
        looks.is_last,
        noted.client_id,
        noted.performed_on as day,
        noted.exercise,
        noted.notes,
    from stg_notes as noted
    cross join review.rules as rules
    inner join int_client__looked as looks
        on
            noted.client_id = looks.client_id
            and noted.performed_on > looks.look_on - rules.pain_days
            and noted.performed_on <= looks.look_on
),

-- plain letters, and a full stop wherever a thought may end
plain_notes as (
    select distinct
        notes,
        regexp_replace(
            regexp_replace(strip_accents(lower(notes)), '[.,;!?()\n]+', ' . ', 'g'),
            '[^a-z0-9.]+',
            ' ',
            'g'
        ) as words,
    from recent_notes
),

patterns as (
    select
        max(pattern) filter (where kind = 'pain') as pain,
        max(pattern) filter (where kind = 'everyday') as everyday,
        max(pattern) filter (where kind = 'absent_before') as absent_before,
        max(pattern) filter (where kind = 'absent_after') as absent_after,
    from stg_pain_words
),

hurting_notes as (
    select plain_notes.notes,
    from plain_notes
    cross join patterns
    where
        regexp_matches(plain_notes.words, '\b(?:' || patterns.pain || ')\b')
        and regexp_matches(
            regexp_replace(
                regexp_replace(
                    plain_notes.words, '\b(?:' || patterns.everyday || ')\b', ' ', 'g'
                ),
                -- "no knee or back pain", "ohne starke Schmerzen", "pain level 0"
                '\b(?:' || patterns.absent_before
                || ')(?: [a-z]+ (?:or|and|oder|und|ou|et|y|e|of|en))?'
                || '(?: [a-z]+)? (?:' || patterns.pain || ')\b'
                || '|\b(?:' || patterns.pain || ')(?: level| score)? (?:'
                || patterns.absent_after || ')\b',
                ' ',
                'g'
            ),
            '\b(?:' || patterns.pain || ')\b'
        )
)

select
    recent_notes.set_id,
    recent_notes.look_on,
    recent_notes.is_last,
    recent_notes.client_id,
    recent_notes.day,
    recent_notes.exercise,
from recent_notes
semi join hurting_notes on recent_notes.notes = hurting_notes.notes
