-- One row per exercise of the catalogue.
-- grain: exercise
-- exercise: the exercise
-- movement: compound or isolation
-- load_basis: what a logged load means where the export does not say
-- bodyweight_share: share of bodyweight that is lifted with it [share]
select
    exercise,
    movement,
    load_basis,
    coalesce(bodyweight_share, 0) as bodyweight_share,
from seed_exercises
