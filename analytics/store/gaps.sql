-- What is missing in the records of the chosen batches that hatched from $first_day to $last_day, by kind:
-- how many trays (or machines), how many eggs, and the first labels. A machine in use then, or now, should
-- have been read beside a reference thermometer from $checked_from to $checked_to.

WITH hatched_then AS (
    SELECT *, batch || ' / ' || tray AS label
    FROM chosen
    WHERE closed AND hatch_on BETWEEN $first_day::DATE AND $last_day::DATE
),
machines AS (
    SELECT incubator_key AS machine_key, incubator AS label FROM hatched_then
    UNION ALL
    SELECT hatcher_key, hatcher FROM hatched_then
    UNION ALL
    SELECT incubator_key, incubator FROM chosen WHERE NOT closed AND set_day <= $last_day::DATE
),
machines_in_use AS (
    SELECT machine_key, min(label) AS label FROM machines GROUP BY machine_key
),
machines_checked AS (
    SELECT label_of(incubator) AS machine_key
    FROM checks
    WHERE withdrawn_in IS NULL AND reference_c IS NOT NULL
        AND CAST("at" AS DATE) BETWEEN $checked_from::DATE AND $checked_to::DATE
    GROUP BY label_of(incubator)
),
gaps AS (
    SELECT 'no_hatched' AS kind, label, eggs_set AS eggs FROM hatched_then WHERE NOT in_hatch
    UNION ALL
    SELECT 'unaccounted', label, unaccounted FROM hatched_then WHERE in_hatch AND unaccounted > 0
    UNION ALL
    SELECT 'not_opened', label, not_opened FROM hatched_then WHERE not_opened > 0
    UNION ALL
    SELECT 'clear', label, clear FROM hatched_then WHERE clear > 0
    UNION ALL
    SELECT 'unstaged', label, unstaged FROM hatched_then WHERE in_hatch AND unstaged > 0
    UNION ALL
    SELECT 'no_storage', label, eggs_set FROM hatched_then WHERE storage_days IS NULL
    UNION ALL
    SELECT 'no_check', u.label, 0
    FROM machines_in_use u
    WHERE u.machine_key NOT IN (SELECT machine_key FROM machines_checked)
)
SELECT kind, count(*) AS how_many, CAST(sum(eggs) AS BIGINT) AS eggs,
    list_slice(list(label ORDER BY label), 1, 10) AS labels
FROM gaps
GROUP BY kind
