-- One row per spelling in the exports: which exercise it is taken for, and how that was decided.
-- grain: exercise_raw
-- exercise_raw: spelling in the exports
-- exercise: the exercise; for an unknown one its own spelling in lower case
-- how: catalogue, workspace, rule, near or unknown
-- score: similarity where how is near, 0 to 100; else null
create table if not exists ledger.exercise_names (
    exercise_raw varchar not null,
    exercise varchar not null,
    how varchar not null,
    score double,
);
