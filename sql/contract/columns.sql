-- One row per column that ledger.sets has or should have, with both types: in another layout no
-- other question means anything.
-- grain: column_name
with expected_types (column_name, expected_type) as (
    values
        ('set_id', 'VARCHAR'),
        ('client_id', 'VARCHAR'),
        ('performed_on', 'DATE'),
        ('started_at', 'TIMESTAMP'),
        ('session_id', 'VARCHAR'),
        ('exercise_raw', 'VARCHAR'),
        ('day_order', 'INTEGER'),
        ('set_no', 'INTEGER'),
        ('side', 'VARCHAR'),
        ('load_kg', 'DOUBLE'),
        ('load_unit', 'VARCHAR'),
        ('load_basis', 'VARCHAR'),
        ('reps', 'INTEGER'),
        ('partial_reps', 'INTEGER'),
        ('rir', 'DOUBLE'),
        ('rpe', 'DOUBLE'),
        ('to_failure', 'BOOLEAN'),
        ('set_kind', 'VARCHAR'),
        ('notes', 'VARCHAR'),
        ('source', 'VARCHAR'),
        ('load_id', 'INTEGER'),
        ('source_line', 'INTEGER'),
        ('replaced_by', 'INTEGER')
),

found_types as (
    select
        column_name,
        data_type,
    from duckdb_columns()
    where schema_name = 'ledger' and table_name = 'sets' and database_name <> 'temp'
)

select
    coalesce(expected_types.column_name, found_types.column_name) as column_name,
    expected_types.expected_type,
    found_types.data_type,
    1 as sets,
from expected_types
full join found_types on expected_types.column_name = found_types.column_name
order by column_name
