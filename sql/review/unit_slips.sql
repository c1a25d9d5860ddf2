-- One row per stretch of sessions of a lift whose loads look noted in another unit, or for one hand
-- instead of both: they stand to the lift's loads before or after as a pound to a kilogram or as two to
-- one. They are kept out of references, trends, bests and records until a person settles it, by
-- corrections.csv or by a noted change of the lift. Which side is wrong is not known: the fewer
-- sessions are named.
-- grain: client_id, exercise, slipped_from
-- client_id: the client
-- exercise: the exercise
-- slipped_from: first day of the sessions
-- slipped_to: last day of the sessions
-- sessions: how many they are [sessions]
-- factor: their loads over those before or after: 2.2046, 2 or their inverses
-- place: first, between or last among the lift's sessions
-- jumped_on: the day at which a noted change of the lift would settle it
select
    client_id::varchar as client_id,
    exercise::varchar as exercise,
    slipped_from,
    slipped_to,
    sessions,
    factor,
    place,
    jumped_on,
from int_lift_stretch__slipped
