-- One row per client, week and kind of movement: how near to failure the work sets with recorded
-- effort ended. Sets under rules.effort_load_share of the day's top load of their exercise are left
-- out, sets without a load are in. RIR = 10 − RPE: Zourdos et al. 2016.
-- grain: client_id, week, movement
-- client_id: the client
-- week: Monday of the week
-- movement: compound or isolation; unknown for exercises that the catalogue does not know
-- work_sets: work sets looked at [sets]
-- recorded_sets: those with recorded effort [sets]
-- rir_0: recorded sets with nothing left, half steps counting down [sets]
-- rir_1: with one repetition left [sets]
-- rir_2: with two left [sets]
-- rir_3: with three left [sets]
-- rir_4: with four left [sets]
-- rir_5_up: with five or more left [sets]
-- extended_sets: recorded sets that went on after failure or hold partials [sets]
-- recorded_share: recorded_sets / work_sets [share]
with weeks as (
    select
        client_id,
        date_trunc('week', day)::date as week,
        movement,
        sum(work_sets)::bigint as work_sets,
        sum(recorded_sets)::bigint as recorded_sets,
        sum(rir_0)::bigint as rir_0,
        sum(rir_1)::bigint as rir_1,
        sum(rir_2)::bigint as rir_2,
        sum(rir_3)::bigint as rir_3,
        sum(rir_4)::bigint as rir_4,
        sum(rir_5_up)::bigint as rir_5_up,
        sum(extended_sets)::bigint as extended_sets,
    from int_client_day__effort
    group by all
)

select
    client_id::varchar as client_id,
    week,
    movement,
    work_sets,
    recorded_sets,
    rir_0,
    rir_1,
    rir_2,
    rir_3,
    rir_4,
    rir_5_up,
    extended_sets,
    round(recorded_sets / work_sets, 9) as recorded_share,
from weeks
