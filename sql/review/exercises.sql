-- One row per exercise of the catalogue as used in this build.
-- grain: exercise
-- exercise: the exercise
-- movement: compound or isolation
-- load_basis: what a logged load means where the export does not say: total, per_hand, added (to
-- bodyweight), assisted (by a machine or band) or none
-- bodyweight_share: share of bodyweight that is lifted with it [share]
select
    exercise,
    movement,
    load_basis,
    bodyweight_share,
from stg_exercises
