-- One row per combination of what was entered for a set, with its number of sets: whether each value
-- can be true. People and apps write pounds to a hundredth at most, so a load logged in pounds that
-- is no such number of them was either never turned into kilograms (then it is a round number of
-- kilograms) or turned twice; an app that turns kilograms into pounds leaves them within rounding of
-- a round number, not on it.
-- grain: all columns but sets
with as_logged as (
    select
        *,
        load_kg / $kg_per_lb * 100 as hundredths_lb,
        load_kg * 2 as halves_kg,
    from contract_sets
)

select
    reps,
    partial_reps,
    load_kg,
    load_unit,
    load_basis,
    rir,
    rpe,
    set_kind,
    side,
    load_kg is not null as has_load,
    load_unit is not null as has_unit,
    coalesce(
        load_unit is distinct from 'lb'
        or abs(hundredths_lb - round(hundredths_lb)) < 1e-4
        or (abs(halves_kg - round(halves_kg)) < 2e-3 and load_kg <> round(load_kg, 2)),
        true
    ) as is_converted,
    count(*) as sets,
from as_logged
group by all
