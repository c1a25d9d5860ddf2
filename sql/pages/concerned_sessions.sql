-- One row per weekday on which the client $client_id trained in the four weeks to the last covered
-- day: how many of its sessions hold what the finding $code on $subject is about, and how many there
-- were. For the line that says in which sessions a first change is to be made.
with subject_lifts as (
    select distinct roles.exercise,
    from review.exercise_muscles as roles
    inner join review.muscles as muscles on roles.muscle = muscles.muscle
    where
        roles.role = 'direct'
        and (
            muscles.muscle = $subject
            or muscles.body_part = $subject
            or ($subject = 'hamstrings_glutes' and muscles.muscle in ('hamstrings', 'glutes'))
        )
),

sets as (
    select  -- noqa: LT09
        graded.performed_on,
        case
            when $code = 'extension' then graded.is_hard and graded.is_extended
            when $code = 'failure'
                then
                    exercises.movement = 'compound'
                    and graded.effort_basis = 'recorded'
                    and graded.rir_used < 1
            else
                graded.exercise = $subject
                or (graded.is_hard and subject_lifts.exercise is not null)
        end as is_concerned,
    from review.graded_sets as graded
    cross join review.rules as rules
    inner join review.coverage as coverage on graded.client_id = coverage.client_id
    left join review.exercises as exercises  -- noqa: ST11
        on graded.exercise = exercises.exercise
    left join subject_lifts on graded.exercise = subject_lifts.exercise  -- noqa: ST11
    where
        graded.client_id = $client_id
        and graded.performed_on > coverage.covered_on - rules.change_days
)

select
    isodow(performed_on) as weekday,
    count(distinct performed_on) as sessions,
    count(distinct performed_on) filter (where is_concerned) as concerned_sessions,
from sets
group by all
order by all
